//! Cumulative sums and their run lengths, held against Lucas 1985, and against runs drawn by a seeded generator.

use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::loss_alarm::cusum::{CusumError, average_run_length, cusum, reference_value, step};
use silkward::reckoning::reckon;

use super::house_of_cohorts::Dice;
use super::oracles::{cases, near};

fn run(input: &Value) -> Result<Value, String> {
    reckon("cusum", &input.to_string()).map(|output| serde_json::from_str(&output).unwrap()).map_err(|error| error.to_string())
}

#[test]
fn every_case_of_the_reference_file_is_met() {
    let cases = cases("cusum");
    assert_eq!(cases.len(), 3);
    for case in cases {
        let (got, expected) = (run(&case["input"]).unwrap(), &case["expected"]);
        let number = |value: &Value| value.as_f64().unwrap();
        let reference = "reference_value_per_exposure";
        assert!(near(&case, number(&got[reference]), number(&expected[reference])));
        let (statistic, wanted) = (got["statistic"].as_array().unwrap(), expected["statistic"].as_array().unwrap());
        assert_eq!(statistic.len(), wanted.len());
        assert!(statistic.iter().zip(wanted).all(|(got, wanted)| near(&case, number(got), number(wanted))), "{}", case["id"]);
        assert_eq!(got["alarm_index"], expected["alarm_index"], "{}", case["id"]);
    }
}

#[test]
fn it_signals_above_the_threshold_and_not_at_it() {
    // With the rates e and 1 the reference is (e − 1) ÷ ln e = e − 1.
    let (rate, periods) = (std::f64::consts::E, [(0.0, 2), (0.0, 1), (1.0, 0)]);
    let found = cusum(1.0, rate, 3.0, &periods).unwrap();
    assert_eq!((found.statistic[1], found.alarm_index), (3.0, None));
    assert!((found.statistic[2] - (4.0 - rate)).abs() < 1e-12);
    assert_eq!(cusum(1.0, rate, 2.9, &periods).unwrap().alarm_index, Some(1));
    assert_eq!(cusum(1.0, rate, 2.9, &[]).unwrap().alarm_index, None);
}

// Lucas, Technometrics 27: 129-144, 1985, table 2: h = 10, k = 0.25, mean 0.25: 438. He signals at h, so above the
// last value before it. The other two are the worked example for his method in the R package IAcsSPCR 1.2.1: h = 6,
// k = 2, mean 1.88 and 0.9627 standard deviations more.
#[test]
fn run_lengths_are_those_of_lucas() {
    assert_eq!(average_run_length(0.25, 0.25, 9.9).unwrap().round(), 438.0);
    assert_eq!(format!("{:.1}", average_run_length(1.88, 2.0, 5.5).unwrap()), "37.2");
    assert_eq!(format!("{:.2}", average_run_length(1.88 + 0.9627 * 1.88_f64.sqrt(), 2.0, 5.5).unwrap()), "5.49");
}

// With a threshold of 0 and a reference of 1 any count above 1 signals: a geometric waiting time. Below 1/2 of the first
// count is enough: the waiting time for it.
#[test]
fn run_lengths_of_the_simplest_sums_are_waiting_times() {
    let mean = 0.3_f64;
    let two_or_more = 1.0 - (-mean).exp() * (1.0 + mean);
    assert!((average_run_length(mean, 1.0, 0.0).unwrap() * two_or_more - 1.0).abs() < 1e-12);
    let any = 1.0 - (-mean).exp();
    assert!((average_run_length(mean, 0.5, 0.25).unwrap() * any - 1.0).abs() < 1e-12);
}

// With next to nothing taken off it is the wait for four, half a one a period: 8 periods, and half a one as it ends whole.
#[test]
fn run_lengths_hold_where_the_mean_is_far_above_the_reference() {
    let length = average_run_length(0.5, 1e-6, 3.5).unwrap();
    assert!((length - 8.5).abs() < 0.05, "{length}");
}

/// The mean of many runs, and its standard error.
fn drawn(mean: f64, reference: f64, threshold: f64, runs: u32) -> (f64, f64) {
    let mut dice = Dice(20_260_710);
    let (mut total, mut squares) = (0.0, 0.0);
    for _ in 0..runs {
        let (mut sum, mut length) = (0.0, 0.0);
        while sum <= threshold {
            sum = step(sum, f64::from(dice.poisson(mean)), reference);
            length += 1.0;
        }
        total += length;
        squares += length * length;
    }
    let (average, runs) = (total / f64::from(runs), f64::from(runs));
    (average, ((squares / runs - average * average) / runs).sqrt())
}

#[test]
fn run_lengths_are_those_of_drawn_runs_whatever_the_reference() {
    // References that are no simple fractions, and the last small enough to be reckoned several periods at a time.
    for (mean, rise, threshold) in [(0.5, 3.0_f64, 3.0), (1.3, 2.0, 2.0), (0.21, 3.0, 2.7), (0.01, 3.0, 3.2)] {
        let reference = mean * (rise - 1.0) / rise.ln();
        let ((seen, error), reckoned) = (drawn(mean, reference, threshold, 1500), average_run_length(mean, reference, threshold).unwrap());
        println!("mean {mean}, threshold {threshold}: {reckoned:.1} reckoned, {seen:.1} ± {error:.1} drawn");
        assert!((reckoned - seen).abs() < 3.5 * error + 0.01 * seen, "{reckoned} for {seen} ± {error}");
    }
}

#[test]
fn run_lengths_of_any_size_end_and_grow_with_the_threshold() {
    let lengths = [2.0, 4.0, 8.0, 16.0, 32.0].map(|threshold| average_run_length(1.0, 2.0, threshold).unwrap());
    assert!(lengths.windows(2).all(|pair| pair[0] < pair[1]) && lengths[4] > 1e15, "{lengths:?}");
    for mean in [1e-12, 1e-3, 1.0, 500.0] {
        for reference in [1e-12, 1e-3, 1.0, 500.0] {
            for threshold in [0.0, 1.0, 500.0] {
                assert!(average_run_length(mean, reference, threshold).unwrap() >= 1.0 - 1e-9, "{mean} {reference} {threshold}");
            }
        }
    }
    for (mean, reference, threshold) in [(0.0, 1.0, 1.0), (1.0, f64::NAN, 1.0), (1.0, 1.0, -1.0), (1.0, 1.0, 501.0), (501.0, 1.0, 1.0)] {
        assert_eq!(average_run_length(mean, reference, threshold), Err(CusumError::RunLength));
    }
}

#[test]
fn what_cannot_be_summed_is_refused_by_its_name() {
    let good = json!({"in_control_rate": 0.002, "out_of_control_rate": 0.004, "exposure": [97, 147], "counts": [1, 0], "threshold": 3});
    let with = |field: &str, value: Value| {
        let mut input = good.clone();
        input[field] = value;
        run(&input)
    };
    assert!(with("threshold", json!(2)).is_ok());
    let mistakes = [
        (with("in_control_rate", json!(0)), "in_control_rate: must"),
        (with("out_of_control_rate", json!(0.002)), "out_of_control_rate: must"),
        (with("threshold", json!(-1)), "threshold: must"),
        (with("exposure", json!([97, -1])), "exposure[1]: must"),
        (with("counts", json!([1])), "counts: must be as many"),
        (with("counts", json!([1, 0.5])), "counts[1]:"),
    ];
    for (got, start) in mistakes {
        let message = got.unwrap_err();
        assert!(message.starts_with(start), "{message}");
    }
    let lengths = &run(&good).unwrap()["average_run_length"];
    assert!(lengths["in_control"].as_f64() > lengths["out_of_control"].as_f64());
    for (r0, r1) in [(f64::MIN_POSITIVE, f64::MAX), (1.0, 1.0 + f64::EPSILON), (1e300, 1e308)] {
        let reference = reference_value(r0, r1).unwrap();
        assert!(reference >= r0 && reference <= r1, "{r0} {r1} {reference}");
    }
}

proptest! {
    // The sum is also the most that the counts of any last periods are beyond their reference.
    #[test]
    fn the_sum_is_the_largest_excess_of_any_last_periods(
        periods in prop::collection::vec((0.0_f64..200.0, 0_u64..5), 1..40),
        r0 in 0.001_f64..0.02, rise in 1.1_f64..6.0, threshold in 0.0_f64..8.0,
    ) {
        let found = cusum(r0, r0 * rise, threshold, &periods).unwrap();
        let reference = r0 * (rise - 1.0) / rise.ln();
        for end in 1..=periods.len() {
            let excess = |start: usize| periods[start..end].iter().map(|(exposure, count)| *count as f64 - reference * exposure).sum::<f64>();
            let largest = (0..end).map(excess).fold(0.0, f64::max);
            prop_assert!((found.statistic[end - 1] - largest).abs() < 1e-9);
        }
        let first = found.statistic.iter().position(|sum| *sum > threshold);
        prop_assert_eq!(found.alarm_index, first);
    }
}
