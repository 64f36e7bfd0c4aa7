//! The climate of a rack: vapour against `PsychroLib` and published spot values (`tests/oracles/psychrometrics.json`),
//! degree-days against the closed form and quadrature (`tests/oracles/degree_days.json`), and the band that species share.

use chrono::{DateTime, Duration, Utc};
use chrono_tz::Tz;
use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::climate::band::{BandError, ClimateBand, Needed, NeededBand, Quantity, needed_band};
use silkward::reckoning::climate::degree_days::{DayRange, Method, degree_days};
use silkward::reckoning::climate::psychrometrics::air;
use silkward::reckoning::climate::watch::{OutOfRange, Reading, Rule, Standing, WatchError, out_of_range};
use silkward::reckoning::reckon;

use super::oracles::{cases, expects_error, near};

// PsychroLib 2.5 (ASHRAE Fundamentals 2017, eq. 6), Wagner & Pruss 1993, ASHRAE table 3.
#[test]
fn vapour_is_as_in_every_reference_case() {
    let mut ran = 0;
    for case in cases("psychrometrics") {
        let input = &case["input"];
        let got = air(input["celsius"].as_f64().unwrap(), input["relative_humidity_percent"].as_f64().unwrap());
        assert_eq!(got.is_err(), expects_error(&case), "{case}");
        if let Ok(got) = got {
            let got = serde_json::to_value(got).unwrap();
            for (name, expected) in case["expected"].as_object().unwrap() {
                assert!(near(&case, got[name].as_f64().unwrap(), expected.as_f64().unwrap()), "{} {name}: {}", case["id"], got[name]);
            }
        }
        ran += 1;
    }
    assert_eq!(ran, 38);
}

#[test]
fn air_that_can_not_be_is_refused_by_field() {
    for (celsius, humidity) in [(f64::NAN, 50.0), (101.0, 50.0), (-61.0, 50.0)] {
        assert!(air(celsius, humidity).unwrap_err().to_string().contains("is not a temperature of air"));
    }
    for humidity in [f64::NAN, 0.0, -5.0, 100.1, f64::INFINITY] {
        assert!(air(20.0, humidity).unwrap_err().to_string().contains("is not a relative humidity"));
    }
    let message = reckon("climate", r#"{"celsius": 20, "relative_humidity_percent": 140}"#).unwrap_err().to_string();
    assert!(message.starts_with("relative_humidity_percent: "));
}

// Baskerville & Emin 1969, Ecology 50: 514-517, in closed form and by quadrature.
#[test]
fn degree_days_are_as_in_every_reference_case() {
    let mut ran = 0;
    for case in cases("degree_days") {
        let input = &case["input"];
        let days: Vec<DayRange> = serde_json::from_value(input["days"].clone()).unwrap();
        let method: Method = serde_json::from_value(input["method"].clone()).unwrap();
        let got = degree_days(&days, input["base_celsius"].as_f64().unwrap(), input["upper_celsius"].as_f64(), method);
        assert_eq!(got.is_err(), expects_error(&case), "{case}");
        if let Ok(got) = got {
            assert!(near(&case, got.total, case["expected"]["total"].as_f64().unwrap()), "{}", case["id"]);
            for (got, expected) in got.daily.iter().zip(case["expected"]["daily"].as_array().unwrap()) {
                assert!(near(&case, *got, expected.as_f64().unwrap()), "{}: {got} for {expected}", case["id"]);
            }
        }
        ran += 1;
    }
    assert_eq!(ran, 36);
}

#[test]
fn days_that_can_not_be_are_refused_by_field() {
    let run = |text: &str| reckon("degree_days", text).unwrap_err().to_string();
    let of = |base: &str, upper: &str, day: &str| {
        format!(r#"{{"base_celsius": {base}, "upper_celsius": {upper}, "days": [{day}], "method": "single_sine"}}"#)
    };
    assert!(run(&of("12", "null", r#"{"min": 20, "max": 19}"#)).starts_with("days[0]: "));
    assert!(run(&of("12", "null", r#"{"min": -500, "max": 19}"#)).starts_with("days[0]: "));
    assert!(run(&of("12", "11", r#"{"min": 10, "max": 19}"#)).starts_with("upper_celsius: "));
    assert!(run(&of("1e9", "null", r#"{"min": 10, "max": 19}"#)).starts_with("base_celsius: "));
    let nan = degree_days(&[DayRange { min: f64::NAN, max: 20.0 }], 12.0, None, Method::Average);
    assert!(nan.is_err());
}

fn band(celsius: (f64, f64), humidity: (f64, f64)) -> ClimateBand {
    ClimateBand { celsius, humidity }
}

fn rack() -> NeededBand {
    needed_band(&[("Brachypelma hamorii", band((22.0, 28.0), (55.0, 70.0))), ("Caribena versicolor", band((20.0, 27.0), (60.0, 80.0)))])
        .unwrap()
}

#[test]
fn a_rack_needs_what_is_common_to_its_species() {
    let needed = rack();
    let Needed::Band { low, high } = &needed.celsius else { panic!("{needed:?}") };
    assert_eq!(
        (low.value, low.label.as_str(), high.value, high.label.as_str()),
        (22.0, "Brachypelma hamorii", 27.0, "Caribena versicolor")
    );
    let Needed::Band { low, high } = &needed.humidity else { panic!("{needed:?}") };
    assert_eq!(
        (low.value, low.label.as_str(), high.value, high.label.as_str()),
        (60.0, "Caribena versicolor", 70.0, "Brachypelma hamorii")
    );
    assert!(needed.clashes().is_empty());
}

#[test]
fn two_species_that_can_not_share_a_rack_are_named_with_both_limits() {
    let needed = needed_band(&[
        ("Grammostola pulchra", band((20.0, 24.0), (55.0, 70.0))),
        ("Poecilotheria metallica", band((22.0, 27.0), (60.0, 75.0))),
        ("Theraphosa blondi", band((25.0, 28.0), (80.0, 90.0))),
    ])
    .unwrap();
    assert_eq!(
        needed.clashes(),
        [
            "Theraphosa blondi and Grammostola pulchra can't share a rack: temperature at least 25 °C for the one, at most 24 °C for the other",
            "Theraphosa blondi and Grammostola pulchra can't share a rack: humidity at least 80 % for the one, at most 70 % for the other",
        ]
    );
    let found = out_of_range(&[reading("2026-03-03T14:00:00Z", Some(20.0), None)], &needed, Rule::default(), Tz::UTC).unwrap();
    assert_eq!((found.celsius.standing, found.celsius.last), (Standing::NoBand, Some(20.0)));
    assert_eq!(found.celsius.told, needed.clashes()[0]);
}

#[test]
fn bands_that_can_not_be_are_refused() {
    assert_eq!(needed_band(&[]), Err(BandError::NoSpecies));
    for wrong in [(28.0, 22.0), (f64::NAN, 22.0), (20.0, f64::INFINITY), (-100.0, 20.0)] {
        let message = needed_band(&[("A", band(wrong, (50.0, 60.0)))]).unwrap_err().to_string();
        assert!(message.starts_with("A: temperature from "), "{message}");
    }
    assert!(needed_band(&[("A", band((20.0, 22.0), (50.0, 101.0)))]).unwrap_err().to_string().starts_with("A: humidity from 50 to 101"));
}

fn at(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn reading(when: &str, celsius: Option<f64>, humidity: Option<f64>) -> Reading {
    Reading { at: at(when), celsius, humidity }
}

/// Temperatures an hour apart, from 3 March 2026 12:00 UTC on.
fn hours(celsius: &[f64]) -> Vec<Reading> {
    celsius
        .iter()
        .zip(0..)
        .map(|(celsius, hour)| Reading { at: at("2026-03-03T12:00:00Z") + Duration::hours(hour), celsius: Some(*celsius), humidity: None })
        .collect()
}

fn watched(celsius: &[f64]) -> OutOfRange {
    out_of_range(&hours(celsius), &rack(), Rule::default(), Tz::UTC).unwrap()
}

#[test]
fn it_is_out_with_the_first_reading_outside_and_says_since_when_and_why() {
    let found = watched(&[23.0, 22.0, 21.9, 20.5]);
    assert_eq!((found.celsius.standing, found.celsius.since), (Standing::TooLow, Some(at("2026-03-03T14:00:00Z"))));
    assert_eq!(found.celsius.told, "too cold since 3 March 2026 14:00: 20.5 °C, Brachypelma hamorii needs at least 22 °C");
    assert_eq!((found.spells.len(), found.spells[0].worst, found.spells[0].readings, found.spells[0].until), (1, 20.5, 2, None));
    assert_eq!(found.humidity.told, "humidity has not been read");
    assert_eq!(
        watched(&[27.0, 27.01]).celsius.told,
        "too warm since 3 March 2026 13:00: 27.01 °C, Caribena versicolor needs at most 27 °C"
    );
    assert_eq!(watched(&[27.0, 24.0]).celsius.told, "temperature in range since 3 March 2026 12:00: 24 °C");
}

#[test]
fn it_is_back_only_by_the_margin_so_that_it_does_not_flap() {
    let hovering = watched(&[21.9, 22.1, 21.9, 22.2, 22.4]);
    assert_eq!(hovering.spells.len(), 1);
    assert_eq!(hovering.celsius.since, Some(at("2026-03-03T12:00:00Z")));
    assert_eq!(
        hovering.celsius.told,
        "too cold since 3 March 2026 12:00: 22.4 °C, Brachypelma hamorii needs at least 22 °C; it counts as back at 22.5 °C"
    );
    let back = watched(&[21.9, 22.5, 22.1]);
    assert_eq!((back.celsius.standing, back.celsius.since), (Standing::InRange, Some(at("2026-03-03T13:00:00Z"))));
    assert_eq!((back.spells[0].until, back.spells[0].readings), (Some(at("2026-03-03T13:00:00Z")), 1));
    let warm = watched(&[27.4, 26.6, 26.5]);
    assert_eq!((warm.celsius.standing, warm.spells[0].worst, warm.spells[0].readings), (Standing::InRange, 27.4, 2));
}

#[test]
fn from_one_limit_past_the_other_is_a_spell_of_its_own() {
    let found = watched(&[20.0, 29.0]);
    let spells: Vec<(Standing, f64, bool)> =
        found.spells.iter().map(|spell| (spell.standing, spell.worst, spell.until.is_some())).collect();
    assert_eq!(spells, [(Standing::TooLow, 20.0, true), (Standing::TooHigh, 29.0, false)]);
}

#[test]
fn a_band_narrower_than_its_margins_can_be_come_back_to() {
    let narrow = needed_band(&[("A", band((22.0, 22.4), (60.0, 70.0)))]).unwrap();
    let found = out_of_range(&hours(&[21.0, 22.2]), &narrow, Rule::default(), Tz::UTC).unwrap();
    assert_eq!(found.celsius.standing, Standing::InRange);
}

#[test]
fn humidity_is_watched_by_itself_and_times_are_those_of_the_house() {
    let readings = [reading("2026-07-03T12:00:00Z", Some(24.0), Some(65.0)), reading("2026-07-03T13:30:00Z", None, Some(48.5))];
    let found = out_of_range(&readings, &rack(), Rule::default(), Tz::Europe__London).unwrap();
    assert_eq!(found.celsius.standing, Standing::InRange);
    assert_eq!(found.humidity.told, "too dry since 3 July 2026 14:30: 48.5 %, Caribena versicolor needs at least 60 %");
    assert_eq!(found.spells[0].quantity, Quantity::Humidity);
}

#[test]
fn readings_and_margins_that_can_not_be_are_refused() {
    let run = |celsius, humidity, rule| out_of_range(&[reading("2026-07-03T12:00:00Z", celsius, humidity)], &rack(), rule, Tz::UTC);
    for wrong in [f64::NAN, f64::NEG_INFINITY, 101.0] {
        assert!(matches!(run(Some(wrong), None, Rule::default()), Err(WatchError::Reading { index: 0, quantity: Quantity::Celsius, .. })));
    }
    assert!(matches!(run(None, Some(-1.0), Rule::default()), Err(WatchError::Reading { quantity: Quantity::Humidity, .. })));
    for margin in [-0.1, f64::NAN, f64::INFINITY] {
        assert!(matches!(run(None, None, Rule { celsius_margin: margin, ..Rule::default() }), Err(WatchError::Margin { .. })));
    }
}

#[test]
fn the_outside_reckoning_answers_the_same() {
    let input = json!({
        "bands": [{"species": "Brachypelma hamorii", "celsius": [22, 28], "humidity": [55, 70]}],
        "readings": [{"at": "2026-03-03T14:00:00Z", "celsius": 20.5, "humidity": null}],
    });
    let got: Value = serde_json::from_str(&reckon("out_of_range", &input.to_string()).unwrap()).unwrap();
    assert_eq!(got["celsius"]["told"], "too cold since 3 March 2026 14:00: 20.5 °C, Brachypelma hamorii needs at least 22 °C");
    assert_eq!(got["celsius"]["standing"], "too-low");
    assert_eq!(got["needed"]["humidity"]["band"]["high"], json!({"value": 70.0, "label": "Brachypelma hamorii"}));
    let refused = |from: &str, to: &str| reckon("out_of_range", &input.to_string().replace(from, to)).unwrap_err().to_string();
    assert!(refused("[22,28]", "[28,22]").starts_with("bands[0].celsius: "));
    assert!(refused("20.5", "2000").starts_with("readings[0].celsius: "));
    assert!(refused("\"readings\"", "\"zone\":\"Mars\",\"readings\"").starts_with("zone: "));
    assert!(refused("\"readings\"", "\"humidity_margin\":-1,\"readings\"").starts_with("humidity_margin: "));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn vapour_is_in_order(celsius in -60.0_f64..=100.0, humidity in 1e-6_f64..=100.0) {
        let got = air(celsius, humidity).unwrap();
        prop_assert!(got.vapour_pressure_kpa > 0.0 && got.vapour_pressure_kpa <= got.saturation_vapour_pressure_kpa * (1.0 + 1e-12));
        prop_assert!(got.vapour_pressure_deficit_kpa >= 0.0 && got.dew_point_celsius <= celsius + 1e-9);
        let sum = got.vapour_pressure_kpa + got.vapour_pressure_deficit_kpa;
        prop_assert!((sum / got.saturation_vapour_pressure_kpa - 1.0).abs() < 1e-12);
        // At its dew point the air is full.
        if got.dew_point_celsius >= -60.0 {
            let at_dew = air(got.dew_point_celsius, 100.0).unwrap();
            prop_assert!((at_dew.saturation_vapour_pressure_kpa / got.vapour_pressure_kpa - 1.0).abs() < 1e-9);
        }
    }

    /// The closed form against summing the sine in small steps.
    #[test]
    fn the_single_sine_is_the_area_under_it(min in -5.0_f64..30.0, range in 0.0_f64..20.0, base in 0.0_f64..25.0, above in 0.0_f64..20.0) {
        let (max, upper) = (min + range, base + above);
        let got = degree_days(&[DayRange { min, max }], base, Some(upper), Method::SingleSine).unwrap().total;
        let steps = 20_000;
        let sum: f64 = (0..steps)
            .map(|step| {
                let angle = std::f64::consts::TAU * (f64::from(step) + 0.5) / f64::from(steps);
                (0.5 * (min + max) + 0.5 * range * angle.sin()).clamp(base, upper) - base
            })
            .sum();
        prop_assert!((got - sum / f64::from(steps)).abs() < 1e-4, "{got}");
        prop_assert!(got >= 0.0 && got <= above + 1e-9);
    }

    /// Every reading outside the band is within a spell, every spell begins outside, and spells follow each other.
    #[test]
    fn spells_hold_every_reading_outside(celsius in prop::collection::vec(prop::sample::select(vec![19.0, 21.9, 22.0, 22.3, 22.5, 24.0, 26.5, 26.8, 27.0, 27.1, 30.0]), 0..30)) {
        let found = watched(&celsius);
        let readings = hours(&celsius);
        let within = |moment: DateTime<Utc>| found.spells.iter().any(|spell| spell.from <= moment && spell.until.is_none_or(|until| moment < until));
        for reading in &readings {
            let value = reading.celsius.unwrap();
            prop_assert!((22.0..=27.0).contains(&value) || within(reading.at));
            prop_assert!(!(22.5..=26.5).contains(&value) || !within(reading.at));
        }
        prop_assert!(found.spells.windows(2).all(|pair| pair[0].until.is_some_and(|until| until <= pair[1].from)));
        prop_assert_eq!(matches!(found.celsius.standing, Standing::TooLow | Standing::TooHigh), found.spells.last().is_some_and(|spell| spell.until.is_none()));
        let mut backwards = readings;
        backwards.reverse();
        prop_assert_eq!(out_of_range(&backwards, &rack(), Rule::default(), Tz::UTC).unwrap(), found);
    }
}
