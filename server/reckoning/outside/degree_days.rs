//! Degree-days.

use serde::Deserialize;

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::climate::degree_days::{DayRange, DegreeDayError, DegreeDays, Method, degree_days};

pub(super) const DEGREE_DAYS: Entry = Entry {
    names: &["degree_days"],
    about: "how much warmth above a base each day gave, up to an upper limit",
    input: r#"{"base_celsius": 12, "upper_celsius": 30, "days": [{"min": 15.6, "max": 25.6}], "method": "single_sine"}
"method" is average or single_sine; "upper_celsius" may be null."#,
    output: r#"{"daily": [°C × days], "total"}"#,
    formula: "average: min and max brought within base and upper, their mean less the base. single_sine: area between base and upper under mean + amplitude sin(x) over one day, in closed form.",
    source: "Baskerville & Emin 1969, Ecology 50: 514-517, with a horizontal upper cutoff",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    base_celsius: f64,
    upper_celsius: Option<f64>,
    days: Rows<DayRange>,
    method: Method,
}

fn reckon(given: Given) -> Result<DegreeDays, ReckonError> {
    degree_days(&given.days, given.base_celsius, given.upper_celsius, given.method).map_err(|error| {
        let field = match error {
            DegreeDayError::Base(_) => "base_celsius".to_owned(),
            DegreeDayError::Upper { .. } => "upper_celsius".to_owned(),
            DegreeDayError::Day { index, .. } => format!("days[{index}]"),
        };
        ReckonError::field(field, error)
    })
}
