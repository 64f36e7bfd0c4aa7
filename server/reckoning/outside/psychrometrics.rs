//! Vapour in the air.

use serde::Deserialize;

use super::{Entry, run};
use crate::reckoning::ReckonError;
use crate::reckoning::climate::psychrometrics::{Air, AirError, air};

pub(super) const PSYCHROMETRICS: Entry = Entry {
    names: &["psychrometrics", "climate"],
    about: "how much vapour the air holds, how strongly it dries, and its dew point",
    input: r#"{"celsius": 26.2, "relative_humidity_percent": 72.9}: humidity above 0 and at most 100 %"#,
    output: r#"{"saturation_vapour_pressure_kpa", "vapour_pressure_kpa", "vapour_pressure_deficit_kpa", "dew_point_celsius"}"#,
    formula: "ln p = C8/T + C9 + C10 T + C11 T² + C12 T³ + C13 ln T (T in K, p in Pa, over water, below 0 °C too); vapour pressure = humidity × p; the dew point is where p equals it.",
    source: "ASHRAE Handbook Fundamentals 2017, chapter 1, equation 6",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    celsius: f64,
    relative_humidity_percent: f64,
}

fn reckon(given: Given) -> Result<Air, ReckonError> {
    air(given.celsius, given.relative_humidity_percent).map_err(|error| {
        let field = if matches!(error, AirError::Celsius(_)) { "celsius" } else { "relative_humidity_percent" };
        ReckonError::field(field, error)
    })
}
