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

/// The names of the files in tests/oracles, in order.
pub fn files() -> Vec<String> {
    let folder = std::fs::read_dir(format!("{}/tests/oracles", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let mut names: Vec<String> = folder
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "json"))
        .map(|path| path.file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

/// Holds an answer against a case: the first field that differs, in words. An answer may hold more than is expected.
pub fn compare(case: &Value, got: &Value) -> Result<(), String> {
    let tolerance = |name: &str| case["tolerance"][name].as_f64().unwrap();
    compare_field("", (tolerance("abs"), tolerance("rel")), &case["expected"], got)
}

type Tolerance = (f64, f64);

fn compare_field(path: &str, tolerance: Tolerance, expected: &Value, got: &Value) -> Result<(), String> {
    let differs = || Err(format!("{path}: expected {expected}, got {got}"));
    match (expected, got) {
        (Value::Object(bounds), Value::Number(_)) if bounds.contains_key("lower_bound") => within_bounds(path, tolerance, expected, got),
        (Value::Object(fields), Value::Object(given)) => fields.iter().try_for_each(|(name, expected)| {
            let path = format!("{path}.{name}");
            let got = given.get(name).ok_or_else(|| format!("{path}: is missing"))?;
            compare_field(&path, tolerance, expected, got)
        }),
        (Value::Array(rows), Value::Array(given)) if rows.len() == given.len() => rows
            .iter()
            .zip(given)
            .enumerate()
            .try_for_each(|(at, (expected, got))| compare_field(&format!("{path}[{at}]"), tolerance, expected, got)),
        (Value::Number(_), Value::Number(_)) if numbers_agree(tolerance, expected, got) => Ok(()),
        (Value::Null | Value::Bool(_) | Value::String(_), _) if expected == got => Ok(()),
        _ => differs(),
    }
}

/// Whole numbers are compared as such: the large ones do not fit a floating-point number.
fn numbers_agree((absolute, relative): Tolerance, expected: &Value, got: &Value) -> bool {
    let number = expected.as_f64().unwrap();
    let difference = match (expected.as_i64(), got.as_i64()) {
        (Some(expected), Some(got)) => (i128::from(expected) - i128::from(got)).abs() as f64,
        _ => (number - got.as_f64().unwrap()).abs(),
    };
    difference <= absolute.max(relative * number.abs())
}

/// Where no optimum is proven: not below the proven bound, and not much worse than the best that was found.
fn within_bounds(path: &str, (absolute, relative): Tolerance, bounds: &Value, got: &Value) -> Result<(), String> {
    let number = |value: &Value| value.as_f64().unwrap();
    let (least, most) = (number(&bounds["lower_bound"]) - 1e-9, number(&bounds["best_found"]) * (1.0 + relative) + absolute);
    match number(got) {
        got if got < least => Err(format!("{path}: {got} is below what is possible, {bounds}")),
        got if got > most => Err(format!("{path}: {got} is worse than was found, {bounds}")),
        _ => Ok(()),
    }
}
