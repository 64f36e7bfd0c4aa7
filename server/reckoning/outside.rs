//! The reckonings that can be run on data from outside: JSON in, JSON out.

use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};

use super::ledger::{Balance, Line, Stage, held_and_free, replay, survival_to};
use super::units::Unit;
use super::{ReckonError, ledger, tag, units};

type Object = Map<String, Value>;

/// `{"body": "A12"}` gives `{"check": "…"}`; `{"code": "A12M"}` gives `{"valid": true}`.
pub(super) fn run_tag(input: &Object) -> Result<Value, ReckonError> {
    match (input.get("body"), input.get("code")) {
        (Some(_), Some(_)) | (None, None) => Err(ReckonError::input("give either “body” or “code”")),
        (Some(_), None) => {
            let body: String = field(input, "", "body")?;
            let check = tag::check_character(&body).map_err(|error| ReckonError::field("body", error))?;
            Ok(json!({ "check": check }))
        }
        (None, Some(_)) => {
            let code: String = field(input, "", "code")?;
            Ok(json!({ "valid": tag::holds(&code) }))
        }
    }
}

/// `{"value": 2.6, "from": "in", "to": "mm"}` gives `{"value": 66.04}`.
pub(super) fn run_units(input: &Object) -> Result<Value, ReckonError> {
    let value: f64 = field(input, "", "value")?;
    let from: Unit = field(input, "", "from")?;
    let to: Unit = field(input, "", "to")?;
    let value = units::convert(value, from, to).map_err(|error| ReckonError::field("to", error))?;
    Ok(json!({ "value": value }))
}

/// `{"lines": [{"id", "day", "from", "to", "quantity", "kind", "cause"?, "reverses"?}], "day"?, "held"?}` gives the
/// balance at the end of that day (of the whole ledger without one), by stage, cause and sink, with the share that
/// reached each stage.
pub(super) fn run_ledger(input: &Object) -> Result<Value, ReckonError> {
    let given: Vec<Object> = field(input, "", "lines")?;
    let lines = given.iter().enumerate().map(|(at, line)| read_line(at, line)).collect::<Result<Vec<_>, _>>()?;
    let refused = |error| ReckonError::field("lines", error);
    let day: Option<chrono::NaiveDate> = optional(input, "", "day")?;
    let balance = match day {
        Some(day) => ledger::balance_at(&lines, day).map_err(refused)?,
        None => replay(&lines).map_err(refused)?,
    };
    let counted: Vec<Line> = lines.into_iter().filter(|line| day.is_none_or(|day| line.day <= day)).collect();
    let held: u32 = optional(input, "", "held")?.unwrap_or(0);
    Ok(show(&balance, &counted, held))
}

fn read_line(at: usize, line: &Object) -> Result<Line, ReckonError> {
    let place = format!("lines[{at}].");
    Ok(Line {
        id: field(line, &place, "id")?,
        day: field(line, &place, "day")?,
        from: field(line, &place, "from")?,
        to: field(line, &place, "to")?,
        quantity: field(line, &place, "quantity")?,
        kind: field(line, &place, "kind")?,
        cause: optional(line, &place, "cause")?,
        reverses: optional(line, &place, "reverses")?,
    })
}

fn show(balance: &Balance, lines: &[Line], held: u32) -> Value {
    use ledger::Bucket::{Lost, Moved, Sold, Tagged, Variance};
    let stages: Object = balance.stages().into_iter().map(|(stage, count)| (stage.code(), json!(count))).collect();
    let causes: Object = balance.lost_by_cause().into_iter().map(|(cause, count)| (cause.code().to_owned(), json!(count))).collect();
    let reached: Object = Stage::all()
        .map(|stage| (stage, survival_to(lines, stage)))
        .filter(|(_, of)| of.reached > 0)
        .map(|(stage, of)| (stage.code(), json!({ "reached": of.reached, "of": of.came_in, "ratio": of.ratio() })))
        .collect();
    let split = held_and_free(balance.alive(), held);
    json!({
        "in": balance.came_in(), "alive": balance.alive(), "stages": stages, "lost": balance.of(Lost),
        "lost_by_cause": causes, "sold": balance.of(Sold), "tagged": balance.of(Tagged), "moved": balance.of(Moved),
        "variance": balance.of(Variance), "held": split.held, "free": split.free, "reached": reached,
        "conserved": balance.conserved(),
    })
}

fn field<T: DeserializeOwned>(object: &Object, place: &str, name: &str) -> Result<T, ReckonError> {
    let value = object.get(name).ok_or_else(|| ReckonError::field(format!("{place}{name}"), "is missing"))?;
    T::deserialize(value).map_err(|error| ReckonError::field(format!("{place}{name}"), error))
}

fn optional<T: DeserializeOwned>(object: &Object, place: &str, name: &str) -> Result<Option<T>, ReckonError> {
    match object.get(name) {
        None | Some(Value::Null) => Ok(None),
        Some(_) => field(object, place, name).map(Some),
    }
}
