//! Reads the files of expected values.

use serde_json::Value;

/// The cases of a file in tests/oracles.
pub fn cases(file: &str) -> Vec<Value> {
    let path = format!("{}/tests/oracles/{file}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let whole: Value = serde_json::from_str(&text).unwrap();
    whole["cases"].as_array().unwrap().clone()
}

/// Whether the case expects an error.
pub fn expects_error(case: &Value) -> bool {
    case["expected"]["error"] == Value::Bool(true)
}

/// Whether a value is within the case's tolerance of its expected number.
pub fn near(case: &Value, got: f64, expected: f64) -> bool {
    let absolute = case["tolerance"]["abs"].as_f64().unwrap();
    let relative = case["tolerance"]["rel"].as_f64().unwrap();
    (got - expected).abs() <= absolute.max(relative * expected.abs())
}
