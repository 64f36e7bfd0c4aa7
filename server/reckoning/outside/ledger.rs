//! Balances of a count ledger.

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::ledger::{Balance, Bucket, Line, Stage, balance_at, held_and_free, replay, survival_to};

type Object = Map<String, Value>;

pub(super) const LEDGER: Entry = Entry {
    names: &["ledger"],
    about: "the balance of a cohort's count ledger, by stage, cause and sink",
    input: r#"{"lines": [{"id": 1, "day": "2026-03-01", "from": "in", "to": "i1", "quantity": 40, "kind": "received",
  "cause": null, "reverses": null}], "day": "2026-03-31", "held": 6}
Buckets: in, egg, ewl, i1 to i20, lost, sold, tagged, moved, variance. A loss names its cause, a reversal the line it takes back.
"day" (the whole ledger without it) and "held" (0) may be left out."#,
    output: r#"{"in", "alive", "stages", "lost", "lost_by_cause", "sold", "tagged", "moved", "variance", "held", "free", "conserved",
"reached": {stage: {"reached", "of", "ratio"}}}: numbers of animals; ratio from 0 to 1"#,
    formula: "Each line moves a quantity from one bucket to another. in = alive + lost + sold + tagged + moved + variance; no bucket is below zero, in the order of entry or at the end of any day.",
    source: "double-entry bookkeeping, common practice",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    lines: Rows<Line>,
    day: Option<NaiveDate>,
    #[serde(default)]
    held: u32,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let Given { lines: Rows(lines), day, held } = given;
    let refused = |error| ReckonError::field("lines", error);
    let balance = match day {
        Some(day) => balance_at(&lines, day).map_err(refused)?,
        None => replay(&lines).map_err(refused)?,
    };
    let counted: Vec<Line> = lines.into_iter().filter(|line| day.is_none_or(|day| line.day <= day)).collect();
    Ok(show(&balance, &counted, held))
}

fn show(balance: &Balance, lines: &[Line], held: u32) -> Value {
    use Bucket::{Lost, Moved, Sold, Tagged, Variance};
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
