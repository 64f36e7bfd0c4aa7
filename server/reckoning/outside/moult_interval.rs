//! The days from one moult to the next.

use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::moult::belief::{Belief, BeliefError};

pub(super) const MOULT_INTERVAL: Entry = Entry {
    names: &["moult_interval", "moult"],
    about: "when the next moult is to be expected, from a belief of ln(days) and the intervals seen so far",
    input: r#"{"prior": {"mean": 3.93, "kappa": 4, "alpha": 4, "beta": 0.3}, "intervals_days": [40, 39], "days_since_last_moult": 41}
mean of ln(days); kappa: as how many intervals it counts; alpha, beta: shape and scale of the variance of ln(days)."#,
    output: r#"{"posterior": {"mean", "kappa", "alpha", "beta"}, "p10_days", "median_days", "p90_days": of the whole interval,
"conditional": {"p10_days", "median_days", "p90_days"}: of those longer than the days that have passed,
"probability_within_7_days": from 0 to 1, as there was no moult so far}"#,
    formula: "y = ln(days) ~ N(mu, s2), mu | s2 ~ N(mean, s2/kappa), s2 ~ Inverse-Gamma(alpha, beta), updated by the intervals. The next y is Student's t with 2 alpha degrees of freedom, location mean, scale sqrt(beta (kappa + 1)/(alpha kappa)).",
    source: "Murphy 2007, Conjugate Bayesian analysis of the Gaussian distribution; Gelman et al., Bayesian Data Analysis",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    prior: Belief,
    intervals_days: Rows<f64>,
    #[serde(default)]
    days_since_last_moult: f64,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let posterior = given.prior.updated(&given.intervals_days).map_err(refused)?;
    let forecast = posterior.forecast(given.days_since_last_moult).map_err(refused)?;
    Ok(json!({
        "posterior": posterior, "p10_days": forecast.p10_days, "median_days": forecast.median_days, "p90_days": forecast.p90_days,
        "conditional": forecast.conditional, "probability_within_7_days": forecast.probability_within_7_days,
    }))
}

fn refused(error: BeliefError) -> ReckonError {
    let field = match &error {
        BeliefError::Figure { figure: "days_since_last_moult", .. } => "days_since_last_moult".to_owned(),
        BeliefError::Figure { figure, .. } => format!("prior.{figure}"),
        BeliefError::Interval { index, .. } => format!("intervals_days[{index}]"),
        _ => "prior".to_owned(),
    };
    ReckonError::field(field, error)
}
