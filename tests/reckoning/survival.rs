//! Survival curves: held against the reference values (Freireich et al., Blood 21: 699-716, 1963; Miller 1997; seeded
//! cohorts reckoned by an independent library), against delayed entry reckoned by hand and by that library, and
//! against a count of each animal on its own.

use std::time::{Duration, Instant};

use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::reckon;
use silkward::reckoning::survival::{End, Entry, Followed, Observation, Survival, SurvivalError, kaplan_meier};

use super::oracles::{cases, near};

/// One animal: the day it came in, the day its following ended, and how.
pub type Animal = (u32, u32, End);

/// Animals added up by day.
pub fn followed(animals: &[Animal]) -> Followed {
    let entries = animals.iter().map(|(day, ..)| Entry { day: *day, count: 1 }).collect();
    let ends = animals.iter().map(|(_, day, event)| Observation { day: *day, count: 1, event: *event }).collect();
    Followed { entries, ends }
}

/// Animals that were all there from day 0.
pub fn plain(ends: &[(u32, u32, End)]) -> Followed {
    let ends = ends.iter().map(|(day, count, event)| Observation { day: *day, count: *count, event: *event });
    Followed { entries: Vec::new(), ends: ends.collect() }
}

pub fn any_animals(most: usize) -> impl Strategy<Value = Vec<Animal>> {
    let animal = (0_u32..30, 0_u32..60, prop::bool::weighted(0.6));
    prop::collection::vec(animal.prop_map(|(from, days, lost)| (from, from + days, if lost { End::Lost } else { End::Left })), 1..most)
}

fn numbers(list: &Value) -> Vec<Option<f64>> {
    list.as_array().unwrap().iter().map(Value::as_f64).collect()
}

fn close(got: &[Option<f64>], expected: &[Option<f64>]) -> bool {
    got.len() == expected.len()
        && got.iter().zip(expected).all(|pair| match pair {
            (Some(got), Some(expected)) => (got - expected).abs() < 1e-9,
            (None, None) => true,
            _ => false,
        })
}

#[test]
fn the_reference_curves_are_met() {
    let all = cases("kaplan_meier");
    assert_eq!(all.len(), 11);
    for case in all {
        let got: Value = serde_json::from_str(&reckon("kaplan_meier", &case["input"].to_string()).unwrap()).unwrap();
        let expected = case["expected"].as_object().unwrap();
        assert_eq!(expected.len(), 10);
        for (field, expected) in expected {
            let (got, id) = (&got[field], &case["id"]);
            match expected {
                Value::Array(_) => assert!(close(&numbers(got), &numbers(expected)), "{id} {field}: {got} {expected}"),
                Value::Null => assert!(got.is_null(), "{id} {field}: {got}"),
                _ => assert!(near(&case, got.as_f64().unwrap(), expected.as_f64().unwrap()), "{id} {field}: {got} {expected}"),
            }
        }
    }
}

/// The 6-MP arm of Freireich et al. 1963, in weeks.
pub fn freireich_treated() -> Followed {
    use End::{Left, Lost};
    plain(&[
        (6, 3, Lost),
        (6, 1, Left),
        (7, 1, Lost),
        (9, 1, Left),
        (10, 1, Lost),
        (10, 1, Left),
        (11, 1, Left),
        (13, 1, Lost),
        (16, 1, Lost),
        (17, 1, Left),
        (19, 1, Left),
        (20, 1, Left),
        (22, 1, Lost),
        (23, 1, Lost),
        (25, 1, Left),
        (32, 2, Left),
        (34, 1, Left),
        (35, 1, Left),
    ])
}

// Freireich et al., Blood 21: 699-716, 1963: the median of the treated arm is 23 weeks.
#[test]
fn the_treated_patients_of_1963() {
    let curve = kaplan_meier(&freireich_treated(), None).unwrap();
    assert_eq!((curve.entered, curve.total_lost, curve.total_left, curve.median), (21, 9, 12, Some(23)));
    assert!((curve.at(6) - 18.0 / 21.0).abs() < 1e-12);
    assert_eq!(curve.at(5), 1.0);
    assert_eq!(curve.limits_at(5), None);
    let (lower, upper) = curve.limits_at(12).unwrap();
    assert!((lower - 0.503).abs() < 5e-4 && (upper - 0.889).abs() < 5e-4);
    assert_eq!([0, 6, 7, 10, 12, 35, 36].map(|day| curve.at_risk_on(day)), [21, 21, 17, 15, 12, 1, 0]);
    assert_eq!((curve.last_day, curve.restricted_mean_tau), (35, 35));
    assert_eq!(curve.cautions, [] as [String; 0]);
    assert_eq!(curve.summary, "21 followed, 9 lost, 12 left; 44.8 % alive at day 35 (95 % limits 18.8 to 68.0 %); half lost by day 23");
}

// Worked value: yearly loss of 10.7 % (Grammostola vachoni, Zool. Anz. 293: 37-45, 2021) over three years: 0.893³.
#[test]
fn three_years_at_the_yearly_loss_of_a_wild_species() {
    let yearly: Vec<(u32, u32, End)> =
        vec![(365, 107_000_000, End::Lost), (730, 95_551_000, End::Lost), (1095, 85_327_043, End::Lost), (1096, 712_121_957, End::Left)];
    let curve = kaplan_meier(&plain(&yearly), None).unwrap();
    assert!((curve.at(365) - 0.893).abs() < 1e-12);
    assert!((curve.at(1095) - 0.712).abs() < 5e-4, "{}", curve.at(1095));
    assert!((curve.at(1095) - 0.893_f64.powi(3)).abs() < 1e-9);
}

// By hand: 6/7, then times 7/9, then times 6/7. Limits: lifelines 0.30.3, entries half a day earlier, since that
// library counts an animal from the instant after its entry.
#[test]
fn those_that_came_in_on_or_before_a_day_are_at_risk_on_it() {
    let entries = vec![Entry { day: 10, count: 5 }, Entry { day: 0, count: 4 }, Entry { day: 3, count: 3 }];
    let ends = plain(&[(20, 6, End::Left), (3, 1, End::Lost), (5, 2, End::Left), (10, 2, End::Lost), (12, 1, End::Lost)]).ends;
    let curve = kaplan_meier(&Followed { entries, ends }, None).unwrap();
    assert_eq!(curve.times, [3, 10, 12]);
    assert_eq!(curve.at_risk, [7, 9, 7]);
    let expected = [(3, 6.0 / 7.0, 0.334_054, 0.978_561), (10, 2.0 / 3.0, 0.281_682, 0.878_307), (12, 4.0 / 7.0, 0.222_895, 0.811_693)];
    for (day, share, lower, upper) in expected {
        assert!((curve.at(day) - share).abs() < 1e-12, "{day}");
        let limits = curve.limits_at(day).unwrap();
        assert!((limits.0 - lower).abs() < 1e-6 && (limits.1 - upper).abs() < 1e-6, "{limits:?}");
    }
    assert_eq!([0, 2, 3, 4, 9, 10, 11, 20, 21].map(|day| curve.at_risk_on(day)), [4, 4, 7, 6, 4, 9, 7, 6, 0]);
}

#[test]
fn half_alive_is_half_lost_whatever_the_rounding() {
    for size in (2..=400).step_by(2) {
        let one_a_day: Vec<_> = (1..=size).map(|day| (day, 1, End::Lost)).collect();
        assert_eq!(kaplan_meier(&plain(&one_a_day), None).unwrap().median, Some(size / 2), "{size}");
    }
}

#[test]
fn what_a_reader_should_bear_in_mind_is_said() {
    let late = Followed { entries: vec![Entry { day: 30, count: 9 }], ends: plain(&[(40, 2, End::Lost), (50, 7, End::Left)]).ends };
    let curve = kaplan_meier(&late, Some(60)).unwrap();
    assert_eq!(curve.cautions[0], "nobody was followed before day 30; losses before it are not in the curve");
    assert_eq!(curve.cautions[1], "nobody was watched after day 50; the mean to day 60 takes it that none were lost since");
    assert_eq!(curve.cautions.len(), 2);
    assert!((curve.restricted_mean - (40.0 + 20.0 * 7.0 / 9.0)).abs() < 1e-12);

    let pioneers = followed(&[(0, 1, End::Lost), (5, 9, End::Left), (5, 9, End::Lost)]);
    let curve = kaplan_meier(&pioneers, None).unwrap();
    assert_eq!(curve.cautions, ["on day 1 the share fell to 0, though more came in later; choose another day 0"]);
    assert_eq!((curve.survival.as_slice(), curve.std_error.as_slice()), (&[0.0, 0.0][..], &[None, None][..]));
    assert_eq!(curve.limits_at(9), None);
}

#[test]
fn groups_that_do_not_add_up_are_refused() {
    let refused = |followed: &Followed| kaplan_meier(followed, None).unwrap_err();
    let one = |day| vec![Entry { day, count: 1 }];
    let ends = plain(&[(4, 1, End::Lost)]).ends;
    assert_eq!(refused(&Followed::default()), SurvivalError::Nothing);
    assert_eq!(refused(&plain(&[(4, 1, End::Lost), (5, 0, End::Left)])), SurvivalError::NoCount { row: 1 });
    let nobody = vec![Entry { day: 0, count: 0 }];
    assert_eq!(refused(&Followed { entries: nobody, ends: ends.clone() }), SurvivalError::NoEntryCount { row: 0 });
    let late = Followed { entries: one(5), ends: ends.clone() };
    assert_eq!(refused(&late), SurvivalError::GoneBeforeEntry { day: 4 });
    let two = Followed { entries: [one(0), one(1)].concat(), ends: ends.clone() };
    assert_eq!(refused(&two), SurvivalError::Unbalanced { entered: 2, ended: 1 });
    assert_eq!(refused(&Followed { entries: one(0), ends: Vec::new() }), SurvivalError::Unbalanced { entered: 1, ended: 0 });
    assert_eq!(refused(&plain(&[(4, u32::MAX, End::Lost), (5, 1, End::Left)])), SurvivalError::TooMany);
    assert_eq!(kaplan_meier(&plain(&[(4, 1, End::Lost)]), Some(0)), Err(SurvivalError::NoTau));
}

#[test]
fn the_largest_days_and_counts_are_reckoned() {
    let most = u32::MAX;
    let curve = kaplan_meier(&plain(&[(most, most - 1, End::Lost), (0, 1, End::Lost)]), Some(most)).unwrap();
    assert_eq!((curve.entered, curve.at_risk[0], curve.median), (most, most, Some(most)));
    assert!(curve.survival.iter().all(|share| share.is_finite()));
    let rare = kaplan_meier(&plain(&[(1, 1, End::Lost), (2, most - 1, End::Left)]), None).unwrap();
    let (lower, upper) = rare.limits_at(1).unwrap();
    assert!(lower < rare.at(1) && rare.at(1) < upper && upper < 1.0);
}

#[test]
fn mistakes_in_a_curve_from_outside_name_their_field() {
    let refused = |input: Value| reckon("survival", &input.to_string()).unwrap_err().to_string();
    let one = json!([{"day": 4, "count": 1, "event": "lost"}]);
    let mistakes = [
        (json!({"observations": []}), "observations: nobody was followed"),
        (json!({"observations": [{"day": 4, "count": 0, "event": "lost"}]}), "observations[0].count: the count must be at least 1"),
        (json!({"observations": [{"day": -4, "count": 1, "event": "lost"}]}), "observations[0].day:"),
        (json!({"observations": [{"day": 4, "count": 1, "event": "dead"}]}), "observations[0].event: “dead” is not a known end"),
        (json!({"observations": one, "tau": 0}), "tau: must be at least 1 day"),
        (json!({"observations": one, "tau": -1}), "tau:"),
        (json!({"observations": one, "entries": [{"day": 0, "count": 0}]}), "entries[0].count:"),
        (json!({"observations": one, "entries": [{"day": 9, "count": 1}]}), "entries: by day 4 more have gone than came in"),
        (json!({"observations": one, "until": 3}), "until: unknown field"),
        (json!({}), "observations: is missing"),
    ];
    for (input, start) in mistakes {
        let message = refused(input);
        assert!(message.starts_with(start), "{message}");
        assert_eq!(message.lines().count(), 1);
    }
}

/// The curve as a count of each animal on its own gives it: day, at risk, lost, share alive.
fn one_by_one(animals: &[Animal]) -> Vec<(u32, usize, usize, f64)> {
    let mut days: Vec<u32> = animals.iter().filter(|animal| animal.2 == End::Lost).map(|animal| animal.1).collect();
    days.sort_unstable();
    days.dedup();
    let mut share = 1.0;
    let step = |day: u32| {
        let at_risk = animals.iter().filter(|(from, to, _)| *from <= day && day <= *to).count();
        let lost = animals.iter().filter(|(_, to, end)| *to == day && *end == End::Lost).count();
        share *= 1.0 - lost as f64 / at_risk as f64;
        (day, at_risk, lost, share)
    };
    days.into_iter().map(step).collect()
}

fn same(one: &Survival, other: &Survival) -> bool {
    one.times == other.times && one.at_risk == other.at_risk && one.survival == other.survival && one.lower_95 == other.lower_95
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn a_curve_is_that_of_each_animal_counted_on_its_own(animals in any_animals(60)) {
        let curve = kaplan_meier(&followed(&animals), None).unwrap();
        let expected = one_by_one(&animals);
        prop_assert_eq!(curve.times.len(), expected.len());
        for (at, (day, at_risk, lost, share)) in expected.into_iter().enumerate() {
            prop_assert_eq!((curve.times[at], curve.at_risk[at] as usize, curve.lost[at] as usize), (day, at_risk, lost));
            prop_assert!((curve.survival[at] - share).abs() < 1e-9);
        }
    }

    #[test]
    fn a_curve_never_rises_and_stays_within_its_limits(animals in any_animals(80), tau in 1_u32..120) {
        let curve = kaplan_meier(&followed(&animals), Some(tau)).unwrap();
        let mut before = 1.0;
        for day in 0..100 {
            let share = curve.at(day);
            prop_assert!((0.0..=1.0).contains(&share) && share <= before);
            before = share;
            let limits = curve.limits_at(day);
            prop_assert_eq!(limits.is_some(), share > 0.0 && share < 1.0);
            if let Some((lower, upper)) = limits {
                prop_assert!(0.0 <= lower && lower < share && share < upper && upper <= 1.0, "{lower} {share} {upper}");
            }
        }
        prop_assert!(curve.restricted_mean > 0.0 || curve.at(0) == 0.0);
        prop_assert!(curve.restricted_mean <= f64::from(tau) + 1e-9);
        prop_assert_eq!(curve.median, (0..100).find(|day| curve.at(*day) <= 0.5 + 1e-12));
    }

    #[test]
    fn those_at_risk_are_those_in_so_far_less_those_gone(animals in any_animals(80)) {
        let curve = kaplan_meier(&followed(&animals), None).unwrap();
        prop_assert_eq!(curve.entered as usize, animals.len());
        prop_assert_eq!(curve.total_lost + curve.total_left, curve.entered);
        for day in 0..100 {
            let came_in = animals.iter().filter(|animal| animal.0 <= day).count();
            let gone = animals.iter().filter(|animal| animal.1 < day).count();
            prop_assert_eq!(curve.at_risk_on(day) as usize, came_in - gone);
        }
    }

    #[test]
    fn entries_that_are_all_on_day_0_are_the_plain_case(animals in any_animals(80)) {
        let animals: Vec<Animal> = animals.into_iter().map(|(_, to, end)| (0, to, end)).collect();
        let delayed = followed(&animals);
        let plain = Followed { entries: Vec::new(), ends: delayed.ends.clone() };
        prop_assert!(kaplan_meier(&delayed, None).unwrap() == kaplan_meier(&plain, None).unwrap());
    }

    #[test]
    fn neither_the_order_of_rows_nor_how_they_are_split_matters(animals in any_animals(80), turn in 0_usize..80) {
        let curve = kaplan_meier(&followed(&animals), None).unwrap();
        let mut turned = followed(&animals);
        let (ends, entries) = (turned.ends.len(), turned.entries.len());
        turned.ends.rotate_left(turn % ends);
        turned.entries.reverse();
        turned.entries.rotate_left(turn % entries);
        prop_assert!(same(&curve, &kaplan_meier(&turned, None).unwrap()));
    }

    #[test]
    fn more_animals_of_the_same_kind_narrow_the_curve_and_do_not_move_it(animals in any_animals(60), times in 2_u32..50) {
        let one = kaplan_meier(&followed(&animals), None).unwrap();
        let mut more = followed(&animals);
        more.ends.iter_mut().for_each(|end| end.count *= times);
        more.entries.iter_mut().for_each(|entry| entry.count *= times);
        let more = kaplan_meier(&more, None).unwrap();
        prop_assert_eq!(&one.times, &more.times);
        for at in 0..one.times.len() {
            prop_assert!((one.survival[at] - more.survival[at]).abs() < 1e-12);
            if let (Some(wide), Some(narrow)) = (one.std_error[at], more.std_error[at]) {
                prop_assert!((wide - narrow * f64::from(times).sqrt()).abs() < 1e-9);
            }
        }
    }
}

// 1,000 cohorts of 300 observations take some 60 ms in a release build; the limit leaves room for slow machines and
// builds without optimisation.
#[test]
fn a_thousand_cohorts_are_reckoned_while_a_page_loads() {
    let ends: Vec<(u32, u32, End)> =
        (0..300).map(|row| ((row * 7919) % 997, 1 + row % 5, if row % 3 == 0 { End::Left } else { End::Lost })).collect();
    let cohort = plain(&ends);
    let began = Instant::now();
    let alive: f64 = (0..1000).map(|_| kaplan_meier(&cohort, None).unwrap().at(500)).sum();
    assert!(alive > 0.0);
    assert!(began.elapsed() < Duration::from_secs(3), "{:?}", began.elapsed());
}
