//! Reading what is given from outside: typed, with at most so many rows, and with every fault as one line that names its field.

use std::ops::Deref;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer, Serialize};

use crate::reckoning::{ReckonError, rows};

/// Reads an input, reckons, and writes the output.
pub(super) fn run<I: DeserializeOwned, O: Serialize>(
    text: &str,
    reckon: impl FnOnce(I) -> Result<O, ReckonError>,
) -> Result<String, ReckonError> {
    let output = reckon(read(text)?)?;
    serde_json::to_string(&output).map_err(|error| ReckonError::input(format!("the answer can't be written: {error}")))
}

/// Reads a JSON object into the shape of an input.
fn read<I: DeserializeOwned>(text: &str) -> Result<I, ReckonError> {
    if !text.trim_start().starts_with('{') {
        return Err(ReckonError::input("the input is not a JSON object"));
    }
    let mut json = serde_json::Deserializer::from_str(text);
    let given = serde_path_to_error::deserialize(&mut json).map_err(|fault| told(&fault.path().to_string(), fault.inner()))?;
    json.end().map_err(|fault| ReckonError::input(format!("the input has something after its JSON object: {fault}")))?;
    Ok(given)
}

/// A fault in one line, by field where there is one.
fn told(path: &str, fault: &serde_json::Error) -> ReckonError {
    let problem = fault.to_string();
    if fault.is_syntax() || fault.is_eof() {
        let place = if path == "." { String::new() } else { format!("{path}: ") };
        return ReckonError::input(format!("{place}the input is not JSON here: {problem}"));
    }
    let problem = problem.rsplit_once(" at line ").map_or(problem.as_str(), |(problem, _)| problem);
    let inside = if path == "." { String::new() } else { format!("{path}.") };
    if let Some(missing) = problem.strip_prefix("missing field `") {
        return ReckonError::field(format!("{inside}{}", missing.trim_end_matches('`')), "is missing");
    }
    if path == "." { ReckonError::input(problem) } else { ReckonError::field(path, problem) }
}

/// A list of at most [`MOST_ROWS`](crate::reckoning::rows::MOST_ROWS) rows. A longer one is refused at the first row
/// too many, before it fills the memory.
#[derive(Debug, Clone)]
pub(super) struct Rows<T>(pub(super) Vec<T>);

impl<T> Default for Rows<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T> Deref for Rows<T> {
    type Target = Vec<T>;
    fn deref(&self) -> &Vec<T> {
        &self.0
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Rows<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        rows::read(deserializer).map(Self)
    }
}
