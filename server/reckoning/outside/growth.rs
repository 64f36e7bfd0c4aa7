//! Growth by moults.

use serde::Deserialize;

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::growth::fit::{Fit, FitError, Span, fit};

pub(super) const GROWTH: Entry = Entry {
    names: &["growth"],
    about: "the growth ratio per moult of one animal or species, and the span to expect after the next",
    input: r#"{"spans": [{"instar": 2, "mm": 3.1}, {"instar": 3, "mm": 4.3}, {"instar": 4, "mm": 6.4}]}: at least 3 spans of at least 2 instars"#,
    output: r#"{"spans": how many, "ratio": growth in length per moult, "log_slope", "log_intercept", "r_squared", "residual": of ln(mm) on instar,
"next_instar", "predicted_next_mm", "prediction_interval_80": [low, high] in mm}"#,
    formula: "Ordinary least squares of ln(mm) on instar; ratio = exp(slope). Prediction interval by Student's t with n - 2 degrees of freedom, taken back by exp.",
    source: "constant ratio per moult: Przibram & Megušar 1912, Dyar 1890; regression: Draper & Smith, Applied Regression Analysis",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    spans: Rows<Span>,
}

fn reckon(given: Given) -> Result<Fit, ReckonError> {
    fit(&given.spans).map_err(|error| {
        let field = match &error {
            FitError::Length { index, .. } => format!("spans[{index}].mm"),
            FitError::Instar { index, .. } => format!("spans[{index}].instar"),
            FitError::TooFew { .. } => "spans".to_owned(),
        };
        ReckonError::field(field, error)
    })
}
