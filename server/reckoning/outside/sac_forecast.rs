//! When a sac, or a stage of it, is to be expected.

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::breeding::forecast::{OfGroup, SacForecastError, forecast};

pub(super) const SAC_FORECAST: Entry = Entry {
    names: &["sac_forecast", "sac-forecast"],
    about: "when a sac is to be expected after a pairing, or a stage after laying, from a usual range and finished sacs",
    input: r#"{"usual": [25, 40], "own_days": [31, 29, 33], "group": [{"days": 27, "usual": [20, 30]}], "since": "2026-04-01"}
days from pairing to sac, or from laying to the stage; "usual": first and last usual day of the species; "group": finished sacs of
other species of its breeding group, each with its own usual days; "own_days", "group" and "since" may be left out."#,
    output: r#"{"p10_days", "median_days", "p90_days", "belief": {"mean", "kappa", "alpha", "beta"} of ln(days), "usual", "own", "group": counts,
"own_weight", "group_weight", "range_weight": from 0 to 1, together 1, "basis", "window": {"from", "likely", "to"} when "since" is given}"#,
    formula: "y = ln(days) ~ N(mu, s2), mu | s2 ~ N(mean, s2/kappa), s2 ~ Inverse-Gamma(alpha, beta). At first kappa = 2, alpha = 4, mean the middle of ln(usual), and beta so that the middle 80 % of the next y (Student's t, 2 alpha degrees of freedom, scale sqrt(beta (kappa + 1)/(alpha kappa))) is the usual range. Own sacs update it as one each, those of the group as half of one, less the middle of their own range.",
    source: "Murphy 2007, Conjugate Bayesian analysis of the Gaussian distribution; Gelman et al., Bayesian Data Analysis; Ibrahim & Chen 2000, Statistical Science 15: 46-60 (from memory); weights are common practice, no source",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    usual: (u32, u32),
    #[serde(default)]
    own_days: Rows<f64>,
    #[serde(default)]
    group: Rows<OfGroup>,
    since: Option<NaiveDate>,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let found = forecast(given.usual, &given.own_days, &given.group).map_err(|error| {
        let field = match &error {
            SacForecastError::Range(_) => "usual".to_owned(),
            SacForecastError::Own { index, .. } => format!("own_days[{index}]"),
            SacForecastError::Group { index, .. } => format!("group[{index}]"),
        };
        ReckonError::field(field, error)
    })?;
    let window = given.since.map(|since| found.window(since));
    let mut answer = serde_json::to_value(&found).map_err(ReckonError::input)?;
    if let (Some(window), Value::Object(fields)) = (window, &mut answer) {
        fields.insert("window".to_owned(), json!(window));
    }
    Ok(answer)
}
