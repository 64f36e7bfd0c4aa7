//! Proportions, rates and tails, held against Newcombe 1998, Clopper & Pearson 1934, Garwood 1936, scipy 1.17 and sums
//! of masses worked out another way.

use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::rates::{
    MOST_COUNTED, RateError, beta_binomial_upper_tail, binomial_upper_tail, clopper_pearson, negative_binomial_upper_tail, poisson_exact,
    poisson_upper_tail, wilson,
};
use silkward::reckoning::reckon;

use super::oracles::{cases, near};

fn close(got: f64, expected: f64, relative: f64) -> bool {
    (got - expected).abs() <= relative * expected.abs()
}

#[test]
fn every_case_of_the_reference_file_is_met() {
    let cases = cases("proportion_and_rate");
    assert_eq!(cases.len(), 32);
    for case in cases {
        let got: Value = serde_json::from_str(&reckon("proportion_and_rate", &case["input"].to_string()).unwrap()).unwrap();
        for (name, expected) in case["expected"].as_object().unwrap() {
            assert!(near(&case, got[name].as_f64().unwrap(), expected.as_f64().unwrap()), "{name} of {case}: {got}");
        }
    }
}

// Newcombe, Stat. Med. 17: 857-872, 1998, table I: methods 3 (score) and 5 (exact), as printed there.
#[test]
fn the_limits_are_those_that_newcombe_printed() {
    let printed = [
        ((81, 263), [0.2553, 0.3662], [0.2527, 0.3676]),
        ((15, 148), [0.0624, 0.1605], [0.0578, 0.1617]),
        ((0, 20), [0.0, 0.1611], [0.0, 0.1684]),
        ((1, 29), [0.0061, 0.1718], [0.0009, 0.1776]),
    ];
    for ((count, total), score, exact) in printed {
        let (near, own) = (wilson(count, total, 0.95).unwrap(), clopper_pearson(count, total, 0.95).unwrap());
        for (got, expected) in [(near.lower, score[0]), (near.upper, score[1]), (own.lower, exact[0]), (own.upper, exact[1])] {
            assert!((got - expected).abs() <= 0.000_051, "{count} of {total}: {got} for {expected}");
        }
    }
    assert_eq!(wilson(81, 263, 0.95).unwrap().percent(), "30.8 % (25.5 to 36.6 %)");
}

// With none counted the upper limits have closed forms: 1 − tail^(1/n), and −ln(tail).
#[test]
fn with_none_counted_the_exact_limits_are_closed_forms() {
    for confidence in [0.5, 0.9, 0.95, 0.999] {
        let tail: f64 = (1.0 - confidence) / 2.0;
        let limits = clopper_pearson(0, 40, confidence).unwrap();
        assert!(limits.lower == 0.0 && close(limits.upper, 1.0 - tail.powf(1.0 / 40.0), 1e-12));
        let all = clopper_pearson(40, 40, confidence).unwrap();
        assert!(all.upper == 1.0 && close(all.lower, tail.powf(1.0 / 40.0), 1e-12));
        assert!(close(poisson_exact(0, 250.0, confidence).unwrap().upper, -tail.ln() / 250.0, 1e-12));
    }
}

// scipy 1.17: binom.sf, poisson.sf, nbinom.sf, betabinom.sf; the second negative binomial is far out in its tail.
#[test]
fn tails_keep_their_figures_far_out_and_at_large_counts() {
    let tails = [
        (binomial_upper_tail(5, 1_000_000, 1e-6), 3.659_823_834_902e-3, 1e-11),
        (binomial_upper_tail(500_500, 1_000_000, 0.5), 1.588_973_456_817e-1, 1e-11),
        (binomial_upper_tail(499_000, 1_000_000, 0.5), 9.773_038_320_453e-1, 1e-11),
        (poisson_upper_tail(100, 20.0), 3.488_878_669_689_6e-37, 1e-11),
        (poisson_upper_tail(1_000_000, 999_000.0), 1.586_552_135_743e-1, 1e-11),
        (negative_binomial_upper_tail(9, 1.9, 5.0), 2.097_311_301_422e-3, 1e-11),
        (negative_binomial_upper_tail(30, 8.0, 40.0), 1.551_508_239_616_6e-7, 1e-11),
        (negative_binomial_upper_tail(2, 8.0, 5.3), 9.680_660_996_332_5e-1, 1e-11),
        // Beyond 100 000 the gamma distribution stands in.
        (negative_binomial_upper_tail(200_000, 1e5, 5.0), 2.925_552_560e-2, 2e-4),
        (beta_binomial_upper_tail(8, 9, 2, 8), 2.738_747_320_790e-3, 1e-11),
        (beta_binomial_upper_tail(1, 5, 40, 2), 9.999_877_358_226e-1, 1e-11),
    ];
    for (place, (got, expected, relative)) in tails.into_iter().enumerate() {
        assert!(close(got.unwrap(), expected, relative), "{place}: {got:?} for {expected}");
    }
    assert_eq!(poisson_upper_tail(1, 0.0), Ok(0.0));
    assert_eq!(poisson_upper_tail(0, 0.0), Ok(1.0));
    assert_eq!((binomial_upper_tail(3, 3, 1.0), binomial_upper_tail(1, 3, 0.0)), (Ok(1.0), Ok(0.0)));
}

#[test]
fn what_cannot_be_reckoned_is_refused_by_its_name() {
    let refused = [
        (wilson(0, 0, 0.95).unwrap_err(), "total"),
        (wilson(5, 4, 0.95).unwrap_err(), "count"),
        (clopper_pearson(1, 4, 1.0).unwrap_err(), "confidence"),
        (clopper_pearson(1, 4, f64::NAN).unwrap_err(), "confidence"),
        (clopper_pearson(1, MOST_COUNTED + 1, 0.9).unwrap_err(), "total"),
        (poisson_exact(1, 0.0, 0.95).unwrap_err(), "exposure"),
        (poisson_exact(1, f64::INFINITY, 0.95).unwrap_err(), "exposure"),
        (poisson_exact(MOST_COUNTED + 1, 1.0, 0.95).unwrap_err(), "count"),
        (poisson_upper_tail(1, -1.0).unwrap_err(), "mean"),
        (poisson_upper_tail(1, f64::NAN).unwrap_err(), "mean"),
        (binomial_upper_tail(1, 2, 1.1).unwrap_err(), "probability"),
        (negative_binomial_upper_tail(1, 0.0, 5.0).unwrap_err(), "mean"),
        (negative_binomial_upper_tail(1, 1.0, 0.0).unwrap_err(), "shape"),
        (beta_binomial_upper_tail(3, 2, 1, 1).unwrap_err(), "count"),
    ];
    for (error, field) in refused {
        assert_eq!(RateError::field(error), field, "{error}");
    }
    let mistakes = [
        (json!({"method": "wilson", "count": 1}), "total: is missing"),
        (json!({"method": "wilson", "count": 1, "total": 2, "mean": 3.0}), "mean: is not used"),
        (json!({"method": "poisson_exact", "count": 1, "exposure": -2.0}), "exposure: must be"),
        (json!({"method": "poisson_upper_tail", "count": -1, "mean": 1.0}), "count:"),
        (json!({"method": "guess", "count": 1}), "method:"),
    ];
    for (input, start) in mistakes {
        let message = reckon("rates", &input.to_string()).unwrap_err().to_string();
        assert!(message.starts_with(start), "{message}");
    }
}

/// P(X ≥ count) from one less than the masses below it, each from the one before, starting at zero.
fn from_below(count: u64, first: f64, ratio: impl Fn(f64) -> f64) -> f64 {
    let (mut mass, mut below) = (first, 0.0);
    for at in 0..count {
        below += mass;
        mass *= ratio(at as f64);
    }
    1.0 - below
}

proptest! {
    #[test]
    fn tails_are_the_sums_of_their_masses(count in 0_u64..60, more in 0_u64..60, p in 0.001_f64..0.999, mean in 0.01_f64..60.0, shape in 0.5_f64..80.0) {
        let total = count + more;
        let poisson = from_below(count, (-mean).exp(), |at| mean / (at + 1.0));
        let binomial = from_below(count, (1.0 - p).powi(total as i32), |at| (total as f64 - at) / (at + 1.0) * p / (1.0 - p));
        let hit = mean / (shape + mean);
        let negative = from_below(count, (1.0 - hit).powf(shape), |at| (at + shape) / (at + 1.0) * hit);
        prop_assert!((poisson_upper_tail(count, mean).unwrap() - poisson).abs() < 1e-11);
        prop_assert!((binomial_upper_tail(count, total, p).unwrap() - binomial).abs() < 1e-11);
        prop_assert!((negative_binomial_upper_tail(count, mean, shape).unwrap() - negative).abs() < 1e-11);
        // With nothing seen before, every number from 0 to the total is as likely as the others.
        let even = (more + 1) as f64 / (total + 1) as f64;
        prop_assert!((beta_binomial_upper_tail(count, total, 0, 0).unwrap() - even).abs() < 1e-11);
    }

    #[test]
    fn limits_leave_what_the_confidence_leaves(count in 1_u64..400, more in 1_u64..400, confidence in 0.5_f64..0.999) {
        let (total, tail) = (count + more, (1.0 - confidence) / 2.0);
        let exact = clopper_pearson(count, total, confidence).unwrap();
        prop_assert!(close(binomial_upper_tail(count, total, exact.lower).unwrap(), tail, 1e-9));
        prop_assert!(close(1.0 - binomial_upper_tail(count + 1, total, exact.upper).unwrap(), tail, 1e-9));
        let rate = poisson_exact(count, 2.0, confidence).unwrap();
        prop_assert!(close(poisson_upper_tail(count, rate.lower * 2.0).unwrap(), tail, 1e-9));
        prop_assert!(close(1.0 - poisson_upper_tail(count + 1, rate.upper * 2.0).unwrap(), tail, 1e-9));
        for limits in [exact, rate, wilson(count, total, confidence).unwrap()] {
            prop_assert!(limits.lower < limits.estimate && limits.estimate < limits.upper);
        }
    }

    #[test]
    fn an_uncertain_rate_makes_many_more_likely_and_a_sure_one_changes_nothing(mean in 0.1_f64..20.0, beyond in 1_u64..30) {
        let count = (mean * 1.5) as u64 + 1 + beyond;
        let sure = poisson_upper_tail(count, mean).unwrap();
        let chances = [5.0, 25.0, 1e8].map(|shape| negative_binomial_upper_tail(count, mean, shape).unwrap());
        prop_assert!(chances[0] > chances[1] && chances[1] > sure);
        prop_assert!(close(chances[2], sure, 1e-4));
    }
}
