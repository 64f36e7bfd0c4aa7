//! The belief of the days between moults, against scipy's figures (`tests/oracles/moult_interval.json`), against quantiles
//! of Student's t in closed form, and in properties that any forecast must have.

use proptest::prelude::*;
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use serde_json::Value;
use silkward::reckoning::moult::belief::{Belief, BeliefError, Forecast, Window};
use silkward::reckoning::reckon;

use super::oracles::{cases, near};
use super::simulated::normal;

fn usual(least: u32, most: u32) -> Belief {
    Belief::from_usual_range(least, most).unwrap()
}

fn width(window: &Forecast) -> f64 {
    (window.p90_days / window.p10_days).ln()
}

// scipy 1.17: the posterior by Murphy 2007, the quantiles of the predictive and conditional distributions.
#[test]
fn every_reference_case_holds() {
    let mut ran = 0;
    for case in cases("moult_interval") {
        let (input, expected) = (&case["input"], &case["expected"]);
        let prior: Belief = serde_json::from_value(input["prior"].clone()).unwrap();
        let intervals: Vec<f64> = serde_json::from_value(input["intervals_days"].clone()).unwrap();
        let posterior = prior.updated(&intervals).unwrap();
        let forecast = posterior.forecast(input["days_since_last_moult"].as_f64().unwrap()).unwrap();
        let conditional: Window = forecast.conditional;
        let figures = [
            (posterior.mean, &expected["posterior"]["mean"]),
            (posterior.kappa, &expected["posterior"]["kappa"]),
            (posterior.alpha, &expected["posterior"]["alpha"]),
            (posterior.beta, &expected["posterior"]["beta"]),
            (forecast.p10_days, &expected["p10_days"]),
            (forecast.median_days, &expected["median_days"]),
            (forecast.p90_days, &expected["p90_days"]),
            (conditional.p10_days, &expected["conditional"]["p10_days"]),
            (conditional.median_days, &expected["conditional"]["median_days"]),
            (conditional.p90_days, &expected["conditional"]["p90_days"]),
            (forecast.probability_within_7_days, &expected["probability_within_7_days"]),
        ];
        for (got, expected) in figures {
            assert!(near(&case, got, expected.as_f64().unwrap()), "{}: {got} for {expected}", case["id"]);
        }
        ran += 1;
    }
    assert_eq!(ran, 12);
}

// Johnson, Kotz & Balakrishnan, chapter 28: with 1 degree of freedom tan(π(p - 1/2)), with 2 (2p - 1)/√(2p(1 - p)).
// With very many the normal point 1.2815515655.
#[test]
fn quantiles_agree_with_closed_forms_of_students_t() {
    let point = |freedom: f64| {
        let belief = Belief { mean: 0.0, kappa: 1e9, alpha: freedom / 2.0, beta: freedom / 2.0 };
        belief.forecast(0.0).unwrap().p90_days.ln()
    };
    assert!((point(1.0) - (0.4 * std::f64::consts::PI).tan()).abs() < 1e-7);
    assert!((point(2.0) - 0.8 / 0.18_f64.sqrt()).abs() < 1e-7);
    assert!((point(1e8) - 1.281_551_565_5).abs() < 1e-6);
}

const RANGES: [(u32, u32); 4] = [(30, 60), (14, 30), (365, 900), (1, 1000)];

// Common practice, no source: a usual range is the middle 80 % of the intervals of one house whose mean is known.
#[test]
fn with_its_mean_known_a_usual_range_is_forecast_as_it_stands() {
    for (least, most) in RANGES {
        let forecast = Belief { kappa: 1e9, ..usual(least, most) }.forecast(0.0).unwrap();
        assert!((forecast.p10_days / f64::from(least) - 1.0).abs() < 1e-8, "{forecast:?}");
        assert!((forecast.p90_days / f64::from(most) - 1.0).abs() < 1e-8, "{forecast:?}");
    }
}

// Murphy 2007 and Gelman et al., chapter 3 (both from memory): the next value varies about the house's mean with the
// variance, and that mean, which counts as 4 values, about the believed one with a quarter of it. Together √(5/4) as wide.
#[test]
fn the_doubt_about_the_mean_comes_on_top_of_a_usual_range() {
    for (least, most) in RANGES {
        let forecast = usual(least, most).forecast(0.0).unwrap();
        let range = (f64::from(most) / f64::from(least)).ln();
        assert!((width(&forecast) / range - 1.25_f64.sqrt()).abs() < 1e-9, "{forecast:?}");
        assert!((forecast.median_days - f64::from(least * most).sqrt()).abs() < 1e-9);
        assert!((forecast.median_days.powi(2) / (forecast.p10_days * forecast.p90_days) - 1.0).abs() < 1e-9);
        assert_eq!(
            forecast.conditional,
            Window { p10_days: forecast.p10_days, median_days: forecast.median_days, p90_days: forecast.p90_days }
        );
    }
    let belief = usual(30, 60);
    assert_eq!((belief.kappa, belief.alpha), (4.0, 4.0));
    // By hand: half of ln 2 is 0.34657, × 1.11803 is 0.38748; √1800 = 42.426, / 1.47327 is 28.80, × 1.47327 is 62.51.
    let forecast = belief.forecast(0.0).unwrap();
    assert!((forecast.p10_days - 28.80).abs() < 0.005 && (forecast.p90_days - 62.51).abs() < 0.005, "{forecast:?}");
}

/// Houses drawn from the belief itself, without its formulas: the variance one over a sum of four exponentials (which is
/// Inverse-Gamma with `alpha` 4), a mean of four values, and one interval more. The range holds 80 % of the intervals laid
/// about the believed mean, and the window 80 % of them where they fall.
#[test]
fn a_range_holds_what_varies_in_one_house_and_its_window_what_varies_over_all() {
    let (mut rng, belief) = (StdRng::seed_from_u64(5), usual(30, 60));
    let window = belief.forecast(0.0).unwrap();
    let (mut in_range, mut in_window, houses) = (0.0, 0.0, 200_000);
    for _ in 0..houses {
        let gamma: f64 = (0..4).map(|_| -(1.0 - rng.random::<f64>()).ln()).sum();
        let spread = (belief.beta / gamma).sqrt();
        let off = (0..4).map(|_| spread * normal(&mut rng)).sum::<f64>() / 4.0;
        let apart = spread * normal(&mut rng);
        let days = (belief.mean + off + apart).exp();
        in_range += f64::from(u8::from((30.0..=60.0).contains(&(belief.mean + apart).exp())));
        in_window += f64::from(u8::from((window.p10_days..=window.p90_days).contains(&days)));
    }
    // 200,000 draws: a standard error of 0.0009.
    for held in [in_range, in_window] {
        assert!((held / f64::from(houses) - 0.8).abs() < 0.004, "{held}");
    }
}

#[test]
fn a_range_of_one_length_still_leaves_some_days_to_each_side() {
    let forecast = usual(60, 60).forecast(0.0).unwrap();
    assert!(forecast.p10_days < 57.0 && forecast.p90_days > 63.0, "{forecast:?}");
    assert!(forecast.p10_days > 50.0 && forecast.p90_days < 70.0, "{forecast:?}");
}

#[test]
fn what_can_not_be_is_refused_by_name() {
    for (least, most) in [(0, 10), (20, 10), (10, 1_000_001)] {
        assert_eq!(Belief::from_usual_range(least, most), Err(BeliefError::UsualRange { least, most }));
    }
    let belief = usual(30, 60);
    for days in [0.0, -3.0, f64::NAN, f64::INFINITY, 2e6] {
        let error = belief.updated(&[40.0, days]).unwrap_err().to_string();
        assert!(error.starts_with("interval 2 is "), "{error}");
    }
    for days in [-1.0, f64::NAN, f64::INFINITY] {
        assert!(belief.forecast(days).unwrap_err().to_string().starts_with("days_since_last_moult is "));
    }
    let wrong = [
        ("mean", Belief { mean: f64::NAN, ..belief }),
        ("kappa", Belief { kappa: 0.0, ..belief }),
        ("alpha", Belief { alpha: -1.0, ..belief }),
        ("beta", Belief { beta: 0.0, ..belief }),
        ("beta", Belief { beta: f64::INFINITY, ..belief }),
    ];
    for (name, belief) in wrong {
        assert!(belief.forecast(1.0).unwrap_err().to_string().starts_with(name));
        assert!(belief.updated(&[1.0]).is_err());
    }
    let endless = Belief { mean: 4.0, kappa: 1.0, alpha: 0.01, beta: 1.0 };
    assert!(matches!(endless.forecast(3.0), Err(BeliefError::Vague)));
}

#[test]
fn from_outside_the_field_is_named() {
    let run = |text: &str| reckon("moult", text).unwrap_err().to_string();
    let prior = r#""prior": {"mean": 4, "kappa": 4, "alpha": 4, "beta": 0.4}"#;
    assert!(run(&format!(r#"{{{prior}, "intervals_days": [40, -1]}}"#)).starts_with("intervals_days[1]: "));
    assert!(run(&format!(r#"{{{prior}, "intervals_days": [], "days_since_last_moult": -2}}"#)).starts_with("days_since_last_moult: "));
    let wrong = prior.replace("\"kappa\": 4", "\"kappa\": -4");
    assert!(run(&format!(r#"{{{wrong}, "intervals_days": []}}"#)).starts_with("prior.kappa: "));
}

/// Far beyond anything usual, and with a normal tail that no float can tell any more.
#[test]
fn a_moult_that_is_absurdly_late_still_has_a_window_ahead() {
    let steady = usual(30, 60).updated(&[45.0; 400]).unwrap();
    let wavering = Belief { mean: 3.8, kappa: 1e6, alpha: 1e6, beta: 4e4 };
    for belief in [usual(30, 60), usual(60, 60), steady, wavering] {
        for days in [61.0, 100.0, 1000.0, 30_000.0, 1e6] {
            let forecast = belief.forecast(days).unwrap();
            let Window { p10_days, median_days, p90_days } = forecast.conditional;
            assert!(days < p10_days && p10_days < median_days && median_days < p90_days, "{belief:?} {days}: {forecast:?}");
            assert!(p90_days.is_finite());
            assert!((0.0..=1.0).contains(&forecast.probability_within_7_days));
        }
    }
}

/// Where the tail's chance is carried on by its slope, the window goes on without a jump.
#[test]
fn the_window_has_no_jump_where_the_tail_can_no_longer_be_told() {
    let belief = Belief { mean: 3.8, kappa: 1e6, alpha: 1e6, beta: 4e4 };
    let ahead = |days: f64| belief.forecast(days).unwrap().conditional.p90_days / days - 1.0;
    for step in 0..400 {
        let days = 44.7 * (0.02 * f64::from(step)).exp();
        let ratio = ahead(days * 1.02) / ahead(days);
        assert!((0.8..=1.001).contains(&ratio), "{days}: {ratio}");
    }
}

#[test]
fn a_million_intervals_are_taken() {
    let belief = usual(30, 60).updated(&vec![45.0; 1_000_000]).unwrap();
    let forecast = belief.forecast(40.0).unwrap();
    assert!((forecast.median_days - 45.0).abs() < 0.01);
    assert!(forecast.p10_days > 44.0 && forecast.p90_days < 46.0);
}

fn any_belief() -> impl Strategy<Value = Belief> {
    (2.0_f64..7.0, 0.1_f64..50.0, 0.6_f64..60.0, 0.001_f64..3.0).prop_map(|(mean, kappa, alpha, beta)| Belief { mean, kappa, alpha, beta })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn quantiles_are_in_order_and_ahead(belief in any_belief(), days in 0.0_f64..3000.0) {
        let forecast = belief.forecast(days).unwrap();
        prop_assert!(forecast.p10_days < forecast.median_days && forecast.median_days < forecast.p90_days);
        let Window { p10_days, median_days, p90_days } = forecast.conditional;
        prop_assert!(days < p10_days && p10_days < median_days && median_days < p90_days && p90_days.is_finite());
        // What has passed can only move the window on.
        prop_assert!(p10_days >= forecast.p10_days * (1.0 - 1e-9) && p90_days >= forecast.p90_days * (1.0 - 1e-9));
    }

    #[test]
    fn the_window_moves_on_as_days_pass(belief in any_belief(), days in 0.0_f64..500.0, later in 0.1_f64..500.0) {
        let (now, then) = (belief.forecast(days).unwrap().conditional, belief.forecast(days + later).unwrap().conditional);
        prop_assert!(then.p10_days >= now.p10_days * (1.0 - 1e-9));
        prop_assert!(then.median_days >= now.median_days * (1.0 - 1e-9));
        prop_assert!(then.p90_days >= now.p90_days * (1.0 - 1e-9));
    }

    /// The chance of the next 7 days and the quantiles are two ways to say one thing.
    #[test]
    fn the_chance_of_seven_days_agrees_with_the_window(belief in any_belief(), days in 1.0_f64..800.0) {
        let forecast = belief.forecast(days).unwrap();
        for (quantile, chance) in [(forecast.conditional.p10_days, 0.1), (forecast.conditional.median_days, 0.5), (forecast.conditional.p90_days, 0.9)] {
            let by_then = forecast.probability_within_7_days;
            prop_assert!((quantile <= days + 7.0) == (by_then >= chance) || (by_then - chance).abs() < 1e-7, "{forecast:?}");
        }
    }

    /// All at once or one after the other is the same (Murphy 2007: the belief is conjugate).
    #[test]
    fn intervals_may_come_in_any_order_and_in_parts(belief in any_belief(), days in prop::collection::vec(5.0_f64..900.0, 1..12), cut in 0_usize..12) {
        let cut = cut.min(days.len());
        let at_once = belief.updated(&days).unwrap();
        let in_parts = belief.updated(&days[cut..]).unwrap().updated(&days[..cut]).unwrap();
        prop_assert!((at_once.mean - in_parts.mean).abs() < 1e-9);
        prop_assert!((at_once.beta - in_parts.beta).abs() < 1e-9 * at_once.beta.max(1.0));
        prop_assert_eq!(at_once.kappa, belief.kappa + days.len() as f64);
        prop_assert_eq!(at_once.alpha, belief.alpha + 0.5 * days.len() as f64);
    }

    #[test]
    fn the_same_interval_again_and_again_narrows_the_window_to_it(least in 10_u32..100, wide in 1.2_f64..3.0, place in 0.0_f64..1.0) {
        let most = (f64::from(least) * wide).ceil() as u32;
        let days = f64::from(least) + place * f64::from(most - least);
        let mut belief = usual(least, most);
        let mut before = f64::INFINITY;
        for seen in 0..40 {
            let forecast = belief.forecast(0.0).unwrap();
            // An interval near the end of the range may widen the window once before it narrows.
            prop_assert!(width(&forecast) < before * 1.0001 || seen < 2, "after {seen}");
            before = width(&forecast);
            belief = belief.updated(&[days]).unwrap();
        }
        prop_assert!((belief.forecast(0.0).unwrap().median_days / days).ln().abs() < 0.1 * (f64::from(most) / f64::from(least)).ln());
        prop_assert!(before < 0.6 * width(&usual(least, most).forecast(0.0).unwrap()));
    }
}

#[test]
fn the_outside_reckoning_answers_the_same() {
    let case = cases("moult_interval").remove(3);
    for name in ["moult", "moult_interval"] {
        let got: Value = serde_json::from_str(&reckon(name, &case["input"].to_string()).unwrap()).unwrap();
        let expected = case["expected"]["conditional"]["p90_days"].as_f64().unwrap();
        assert!(near(&case, got["conditional"]["p90_days"].as_f64().unwrap(), expected));
    }
}
