//! Duties of the days ahead.

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Value, json};

use super::hazard::{TableRow, table_of};
use super::planner::GivenSubject;
use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::planner::{LeftIn, MOST_DAYS, SiteRules, Subject, look_ahead};

pub(super) const LOOK_AHEAD: Entry = Entry {
    names: &["look_ahead"],
    about: "the duties of the coming days, if each is done on the day it falls due, every meal is taken and nothing moults meanwhile",
    input: r#"{"day": "2026-03-08", "days": 14, "subjects": [as in "planner"], "left_in": {"animals": 0.05, "cohorts": 0.1}, "rules": {}, "table": []}
day: the first day; days: how many, 1 to 60; left_in: the shares (0 to 1) of offers to animals, and of meals of cohorts, whose prey is
left in; rules and table as in "planner". "left_in", "rules" and "table" may be left out"#,
    output: r#"{"duties": [{"day", "expected", "mouths", and the fields of a duty of "planner"}]}: in order of day, subject and kind; "expected"
is 1, or the chance that prey must be cleared; "mouths" is how many take prey at a feed"#,
    formula: "Each subject is stepped from day to day: what the planner gives for a day and is not held is taken as done on it, the facts are changed as its sign-off would change them, and what follows on the same day is added. Clearing prey is expected a day after each meal, by the share that is left in.",
    source: "intervals and minutes are common practice, no source",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    day: NaiveDate,
    days: u32,
    subjects: Rows<GivenSubject>,
    #[serde(default = "never")]
    left_in: LeftIn,
    #[serde(default)]
    rules: SiteRules,
    #[serde(default)]
    table: Rows<TableRow>,
}

fn never() -> LeftIn {
    LeftIn::NEVER
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let table = table_of(&given.table)?;
    if !(1..=MOST_DAYS).contains(&given.days) {
        return Err(ReckonError::field("days", format!("give a whole number from 1 to {MOST_DAYS}")));
    }
    for (field, share) in [("left_in.animals", given.left_in.animals), ("left_in.cohorts", given.left_in.cohorts)] {
        if !(0.0..=1.0).contains(&share) {
            return Err(ReckonError::field(field, "a share must be a number from 0 to 1"));
        }
    }
    let subjects: Vec<Subject> = given.subjects.0.into_iter().map(|GivenSubject(subject)| subject).collect();
    Ok(json!({ "duties": look_ahead(given.day, given.days, &subjects, &given.rules, &table, given.left_in) }))
}
