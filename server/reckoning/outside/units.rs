//! Conversions of units.

use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, run};
use crate::reckoning::units::{self, Unit};
use crate::reckoning::{ReckonError, units::UnitError};

pub(super) const UNITS: Entry = Entry {
    names: &["units"],
    about: "a length, temperature or mass in another unit",
    input: r#"{"value": 2.6, "from": "in", "to": "mm"}: units are in, cm, mm, f, c, oz, g"#,
    output: r#"{"value": 66.04}"#,
    formula: "1 in = 2.54 cm exactly; t/°C = (t/°F − 32)/1.8; 1 oz = 28.349523125 g.",
    source: "NIST SP 811, appendix B",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    value: f64,
    from: Unit,
    to: Unit,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let value = units::convert(given.value, given.from, given.to).map_err(|error| {
        let field = if error == UnitError::NotANumber { "value" } else { "to" };
        ReckonError::field(field, error)
    })?;
    Ok(json!({ "value": value }))
}
