//! Cumulative sums of counts.

use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::loss_alarm::cusum::{self, CusumError};

pub(super) const CUSUM: Entry = Entry {
    names: &["cusum"],
    about: "a cumulative sum of counts, which finds a small rise of a rate that lasts, and how long it runs without one",
    input: r#"{"in_control_rate": 0.002, "out_of_control_rate": 0.004, "exposure": [97, 147], "counts": [1, 0], "threshold": 3}
Rates are per unit of exposure (losses per spiderling-day); "exposure" and "counts" have one row a period; the threshold is in counts."#,
    output: r#"{"reference_value_per_exposure", "statistic": [one a period], "alarm_index": first period above the threshold, from 0, or null,
"average_run_length": {"in_control", "out_of_control"}: periods of the mean exposure until it signals, or null}"#,
    formula: "S = max(0, S before + count − k × exposure), k = (r1 − r0) ÷ ln(r1 ÷ r0); alarm at the first S above the threshold; not set back after it. Run lengths from a Markov chain over the values of S.",
    source: "Lucas, Technometrics 27: 129-144, 1985; Brook & Evans, Biometrika 59: 539-549, 1972",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    in_control_rate: f64,
    out_of_control_rate: f64,
    exposure: Rows<f64>,
    counts: Rows<u64>,
    threshold: f64,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    if given.exposure.len() != given.counts.len() {
        return Err(refused(CusumError::Counts));
    }
    let periods: Vec<(f64, u64)> = given.exposure.iter().copied().zip(given.counts.iter().copied()).collect();
    let (r0, r1) = (given.in_control_rate, given.out_of_control_rate);
    let sum = cusum::cusum(r0, r1, given.threshold, &periods).map_err(refused)?;
    let mean_exposure = given.exposure.iter().sum::<f64>() / given.exposure.len() as f64;
    let run_length =
        |rate: f64| cusum::average_run_length(rate * mean_exposure, sum.reference_value_per_exposure * mean_exposure, given.threshold).ok();
    Ok(json!({
        "reference_value_per_exposure": sum.reference_value_per_exposure, "statistic": sum.statistic, "alarm_index": sum.alarm_index,
        "average_run_length": { "in_control": run_length(r0), "out_of_control": run_length(r1) },
    }))
}

fn refused(error: CusumError) -> ReckonError {
    let field = match error {
        CusumError::InControl => "in_control_rate".to_owned(),
        CusumError::OutOfControl => "out_of_control_rate".to_owned(),
        CusumError::Threshold | CusumError::RunLength => "threshold".to_owned(),
        CusumError::Exposure(place) => format!("exposure[{place}]"),
        CusumError::Counts => "counts".to_owned(),
    };
    ReckonError::field(field, error)
}
