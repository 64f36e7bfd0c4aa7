//! The ground floor: pure reckoning. No async, no I/O, no SQL, no clock, no HTTP. Values in, values out,
//! every formula with its units and its source.

#[macro_use]
pub mod coded;
pub mod breeding;
pub mod calendar;
pub mod enclosure;
pub mod growth;
pub mod hazard;
pub mod ledger;
pub mod moult;
mod outside;
pub mod planner;
pub mod provenance;
pub mod sale_readiness;
pub mod stage;
pub mod tag;
pub mod units;
pub mod words;

use serde_json::{Map, Value};

/// A reckoning by name: JSON object in, JSON value out.
type Reckoning = fn(&Map<String, Value>) -> Result<Value, ReckonError>;

/// Every reckoning that can be run on data from outside.
const RECKONINGS: [(&str, Reckoning); 3] = [("ledger", outside::run_ledger), ("tag", outside::run_tag), ("units", outside::run_units)];

/// Why a reckoning could not be run; always one line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReckonError {
    /// No reckoning of that name.
    #[error("“{0}” is not a reckoning; there are: {list}", list = names().join(", "))]
    UnknownName(String),
    /// Something is wrong with the input as a whole.
    #[error("{0}")]
    Input(String),
    /// Something is wrong with one field.
    #[error("{field}: {problem}")]
    Field {
        /// Which field.
        field: String,
        /// What is wrong with it.
        problem: String,
    },
}

impl ReckonError {
    fn input(problem: impl ToString) -> Self {
        Self::Input(problem.to_string())
    }

    fn field(field: impl Into<String>, problem: impl ToString) -> Self {
        Self::Field { field: field.into(), problem: problem.to_string() }
    }
}

/// The names that [`reckon`] knows.
pub fn names() -> Vec<&'static str> {
    RECKONINGS.iter().map(|(name, _)| *name).collect()
}

/// Runs a reckoning on a JSON object and gives JSON back. The shapes are those of the functions in `outside`.
///
/// # Errors
/// Unknown names, with those that are known; input that is not a JSON object; fields that are missing, of the wrong
/// kind, or refused by the reckoning.
pub fn reckon(name: &str, input: &str) -> Result<String, ReckonError> {
    let (_, run) = RECKONINGS.iter().find(|(known, _)| *known == name).ok_or_else(|| ReckonError::UnknownName(name.to_owned()))?;
    let object: Map<String, Value> =
        serde_json::from_str(input).map_err(|error| ReckonError::input(format!("the input is not a JSON object: {error}")))?;
    Ok(run(&object)?.to_string())
}
