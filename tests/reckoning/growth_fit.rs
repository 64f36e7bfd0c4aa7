//! Growth fitted to spans, against statsmodels (`tests/oracles/growth.json`) and Przibram's rule, and the rehouse that
//! follows from it.

use proptest::prelude::*;
use silkward::reckoning::enclosure::{BoxRules, rehouse_due};
use silkward::reckoning::growth::fit::{Fit, FitError, Span, doubt_per_moult, fit};
use silkward::reckoning::growth::rehouse::{Growing, MoultsAhead, RehouseError, forecast_rehouse};
use silkward::reckoning::growth::{PRZIBRAM_RATIO, VACHONI_RATIO};
use silkward::reckoning::moult::learn::DayWindow;
use silkward::reckoning::reckon;

use super::on;
use super::oracles::{cases, near};

fn spans(given: &[(u32, f64)]) -> Vec<Span> {
    given.iter().map(|&(instar, mm)| Span { instar, mm }).collect()
}

/// An animal of 3 mm at the second instar that grows by a ratio, with measuring errors of about 2 %.
fn grown(ratio: f64) -> Fit {
    let wobble = [1.01, 0.98, 1.02, 1.0, 0.99, 1.01];
    let of = |(at, wobble): (u32, &f64)| (at + 2, 3.0 * ratio.powi(at as i32) * wobble);
    fit(&spans(&(0..6).zip(&wobble).map(of).collect::<Vec<_>>())).unwrap()
}

// statsmodels 0.15, and Przibram's rule as an exact series: three moults double a length.
#[test]
fn every_reference_case_holds() {
    let mut ran = 0;
    for case in cases("growth") {
        let given: Vec<Span> = serde_json::from_value(case["input"]["spans"].clone()).unwrap();
        let got = serde_json::to_value(fit(&given).unwrap()).unwrap();
        for (name, expected) in case["expected"].as_object().unwrap() {
            let pairs = match expected.as_array() {
                Some(both) => vec![(&got[name][0], &both[0]), (&got[name][1], &both[1])],
                None => vec![(&got[name], expected)],
            };
            for (got, expected) in pairs {
                assert!(near(&case, got.as_f64().unwrap(), expected.as_f64().unwrap()), "{} {name}: {got} for {expected}", case["id"]);
            }
        }
        ran += 1;
    }
    assert_eq!(ran, 6);
}

#[test]
fn too_little_and_what_can_not_be_is_refused() {
    assert_eq!(fit(&spans(&[(2, 3.0), (3, 4.0)])), Err(FitError::TooFew { spans: 2, instars: 2 }));
    assert_eq!(fit(&spans(&[(2, 3.0), (2, 3.1), (2, 3.2)])), Err(FitError::TooFew { spans: 3, instars: 1 }));
    assert!(fit(&spans(&[(2, 3.0), (2, 3.1), (3, 4.0)])).is_ok());
    for mm in [0.0, -1.0, f64::NAN, f64::INFINITY, 1001.0] {
        let message = fit(&spans(&[(2, 3.0), (3, mm), (4, 5.0)])).unwrap_err().to_string();
        assert!(message.starts_with("span 2 is "), "{message}");
    }
    assert!(matches!(fit(&spans(&[(2, 3.0), (3, 4.0), (u32::MAX, 5.0)])), Err(FitError::Instar { index: 2, .. })));
    let message = reckon("growth", r#"{"spans": [{"instar": 2, "mm": 3}, {"instar": 3, "mm": -4}, {"instar": 4, "mm": 5}]}"#).unwrap_err();
    assert!(message.to_string().starts_with("spans[1].mm: "));
}

#[test]
fn spans_that_do_not_differ_have_no_r_squared() {
    let flat = fit(&spans(&[(2, 5.0), (3, 5.0), (4, 5.0)])).unwrap();
    assert_eq!((flat.r_squared, flat.ratio), (None, 1.0));
}

#[test]
fn a_span_is_doubted_against_the_animals_own_line() {
    let own = grown(1.30);
    let last = Span { instar: 7, mm: own.expected_mm(7) };
    let next = |share: f64| Span { instar: 8, mm: own.expected_mm(8) * share };
    assert_eq!(own.doubt(last, next(1.0)), None);
    assert_eq!(own.doubt(last, next(1.04)), None);
    let doubt = own.doubt(last, next(1.15)).unwrap();
    assert!(doubt.starts_with("check the measurement: ") && doubt.ends_with("follows from 6 earlier spans (× 1.30 a moult)"), "{doubt}");
    assert!(own.doubt(last, next(0.85)).is_some());
}

/// A line through exact figures has no spread at all; a measurement may still be off by 5 %.
#[test]
fn an_exact_line_does_not_doubt_every_measurement() {
    let exact = fit(&spans(&[(2, 4.0), (5, 8.0), (8, 16.0)])).unwrap();
    let last = Span { instar: 8, mm: 16.0 };
    assert_eq!(exact.doubt(last, Span { instar: 9, mm: 21.0 }), None);
    assert!(exact.doubt(last, Span { instar: 9, mm: 21.5 }).is_some());
}

// Common practice, no source: 1.05 to 1.70 a moult is plausible.
#[test]
fn a_span_over_several_moults_is_doubted_by_its_ratio_a_moult() {
    let of = |before: (u32, f64), after: (u32, f64)| {
        doubt_per_moult(Span { instar: before.0, mm: before.1 }, Span { instar: after.0, mm: after.1 })
    };
    assert_eq!(of((3, 10.0), (5, 25.0)), None);
    assert!(of((3, 10.0), (5, 30.0)).unwrap().contains("over 2 moults is × 1.73 a moult"));
    assert!(of((3, 10.0), (4, 10.4)).unwrap().contains("over one moult is × 1.04 a moult"));
    assert_eq!(of((4, 10.0), (4, 99.0)), None);
    assert_eq!(of((5, 10.0), (4, 99.0)), None);
    let line = grown(1.02);
    assert!(line.doubt(Span { instar: 7, mm: line.expected_mm(7) }, Span { instar: 8, mm: line.expected_mm(8) }).is_some());
}

fn next_moult() -> DayWindow {
    DayWindow { from: on("2026-03-01"), likely: on("2026-03-16"), to: on("2026-04-01") }
}

fn growing(span_mm: f64, enclosure_length_mm: u32) -> Growing<'static> {
    Growing {
        span_mm,
        fit: None,
        next_moult: next_moult(),
        later_days: (40, 60, 90),
        enclosure_length_mm,
        adult_span_mm: None,
        boxes: BoxRules::default(),
    }
}

// Worked by hand: 30 mm grows to 37.8, 47.6, 60.0 mm by 1.26; to 41.4, 57.1 by 1.38; to 39.6, 52.2 by their mean 1.3186.
// A box of 150 mm is outgrown above 50 mm: at the second moult at the earliest and likely, at the third at the latest.
#[test]
fn by_the_published_ratios_the_days_of_the_moults_add_up() {
    let got = forecast_rehouse(&growing(30.0, 150)).unwrap();
    assert_eq!(got.moults, Some(MoultsAhead { fewest: 2, likely: 2, most: 3 }));
    assert_eq!(got.window, Some(DayWindow { from: on("2026-04-10"), likely: on("2026-05-15"), to: on("2026-09-28") }));
    assert!((got.span_then_mm.unwrap() - 30.0 * 1.26 * 1.38).abs() < 1e-9);
    assert_eq!((got.ratios.0, got.ratios.2), (PRZIBRAM_RATIO, VACHONI_RATIO));
    assert_eq!(
        got.reason,
        "at its second next (earliest the second next, latest the third next) moult, likely on 15 May 2026 (10 April 2026 to 28 September 2026): \
         from 30 mm at the published × 1.26 to × 1.38 a moult it reaches 52 mm, more than a third of 150 mm"
    );
}

#[test]
fn an_animals_own_ratio_is_preferred_when_it_is_plausible() {
    let (fast, shrinking) = (grown(1.6), grown(0.9));
    let got = forecast_rehouse(&Growing { fit: Some(&fast), ..growing(30.0, 130) }).unwrap();
    assert_eq!(got.moults.unwrap().likely, 1);
    assert_eq!(got.window.unwrap().likely, on("2026-03-16"));
    assert!(got.reason.contains("at its own × 1.60 a moult (6 spans)"), "{}", got.reason);
    assert!(got.ratios.0 < got.ratios.1 && got.ratios.1 < got.ratios.2);
    let got = forecast_rehouse(&Growing { fit: Some(&shrinking), ..growing(30.0, 130) }).unwrap();
    assert_eq!(got.ratios.0, PRZIBRAM_RATIO);
    assert!(got.reason.contains("its own × 0.90 is not plausible"), "{}", got.reason);
}

#[test]
fn what_is_outgrown_already_is_due_now_and_what_never_will_be_is_said() {
    let due = forecast_rehouse(&growing(61.0, 180)).unwrap();
    assert_eq!((due.moults, due.window), (Some(MoultsAhead { fewest: 0, likely: 0, most: 0 }), None));
    assert_eq!(due.reason, "due now: 61 mm is more than a third of 180 mm");
    assert_ne!(forecast_rehouse(&growing(60.0, 180)).unwrap().moults, due.moults);
    let roomy = forecast_rehouse(&Growing { adult_span_mm: Some(150), ..growing(60.0, 450) }).unwrap();
    assert_eq!((roomy.moults, roomy.window), (None, None));
    assert_eq!(roomy.reason, "not to be expected: full-grown at 150 mm it still has three times its span in 450 mm");
    assert!(forecast_rehouse(&growing(1.0, 4_000_000)).unwrap().reason.starts_with("not to be expected within 20 moults"));
}

#[test]
fn a_span_or_a_box_that_can_not_be_is_refused() {
    for span in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(forecast_rehouse(&growing(span, 100)), Err(RehouseError::Span));
    }
    assert_eq!(forecast_rehouse(&growing(10.0, 0)), Err(RehouseError::Length));
}

proptest! {
    /// The rule of the duty and the forecast are one: at the likely moult it is due, and not one moult before.
    #[test]
    fn the_rehouse_comes_at_the_first_moult_that_breaks_the_rule(span in 3.0_f64..200.0, length in 10_u32..800) {
        let got = forecast_rehouse(&growing(span, length)).unwrap();
        if let (Some(moults), Some(then), Some(window)) = (got.moults, got.span_then_mm, got.window) {
            prop_assert!(rehouse_due(then.round() as u32, length));
            prop_assert!(!rehouse_due((then / got.ratios.1).round() as u32, length));
            prop_assert!((then - span * got.ratios.1.powi(moults.likely as i32)).abs() < 1e-6);
            prop_assert!(1 <= moults.fewest && moults.fewest <= moults.likely && moults.likely <= moults.most);
            prop_assert!(window.from <= window.likely && window.likely <= window.to);
        } else {
            prop_assert!(rehouse_due(span.round() as u32, length));
        }
    }

    /// An exact series is found again, whatever its ratio.
    #[test]
    fn an_exact_ratio_is_found_again(ratio in 1.05_f64..1.7, first in 1.0_f64..6.0, count in 3_u32..10) {
        let exact: Vec<(u32, f64)> = (0..count).map(|at| (at + 1, first * ratio.powi(at as i32))).filter(|(_, mm)| *mm <= 1000.0).collect();
        let fitted = fit(&spans(&exact)).unwrap();
        prop_assert!((fitted.ratio - ratio).abs() < 1e-9);
        prop_assert!((fitted.predicted_next_mm / (exact.last().unwrap().1 * ratio) - 1.0).abs() < 1e-9);
    }
}
