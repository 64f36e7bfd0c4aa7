//! Life tables by stage.

use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::life_table::{CauseCount, LifeRow, LifeTableError, StageRow, life_table};

pub(super) const LIFE_TABLE: Entry = Entry {
    names: &["life_table"],
    about: "losses by stage and cause, and the share alive at each stage",
    input: r#"{"stages": [{"stage": "i1", "entered": 150, "lost": [{"cause": "mould", "count": 8}], "left": 2}]}
Stages youngest first, numbers of animals; stages and causes may have any names. "left" counts those still at the stage too."#,
    output: r#"{"stages": [{"stage", "entered", "lost", "left", "q_crude", "q_actuarial", "l_crude", "l_actuarial", "cause_share": {cause: share}}],
"l_end_crude", "l_end_actuarial", "summary"}: shares from 0 to 1; null after a stage that none entered"#,
    formula: "q crude = lost/entered; q actuarial = lost/(entered − left/2); l = product of 1 − q over the stages before.",
    source: "Berkson & Gage 1950 (from memory)",
    run: |text| run(text, table),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    stages: Rows<GivenStage>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GivenStage {
    stage: String,
    entered: u32,
    lost: Rows<CauseCount<String>>,
    left: u32,
}

fn table(given: Given) -> Result<Value, ReckonError> {
    let rows = given.stages.0.into_iter();
    let rows: Vec<StageRow<String, String>> =
        rows.map(|row| StageRow { stage: row.stage, entered: row.entered, lost: row.lost.0, left: row.left }).collect();
    let table = life_table(&rows).map_err(refused)?;
    let stages: Vec<Value> = table.stages.iter().map(show).collect();
    Ok(json!({
        "stages": stages, "l_end_crude": table.l_end_crude, "l_end_actuarial": table.l_end_actuarial, "summary": table.summary,
    }))
}

fn show(row: &LifeRow<String, String>) -> Value {
    let shares: Map<String, Value> = row.causes.iter().map(|of| (of.cause.clone(), json!(of.share))).collect();
    json!({
        "stage": row.stage, "entered": row.entered, "lost": row.lost, "left": row.left, "q_crude": row.q_crude,
        "q_actuarial": row.q_actuarial, "l_crude": row.l_crude, "l_actuarial": row.l_actuarial, "cause_share": shares,
    })
}

fn refused(error: LifeTableError) -> ReckonError {
    let field = match error {
        LifeTableError::NoStages => "stages".to_owned(),
        LifeTableError::StageTwice { row } => format!("stages[{row}].stage"),
        LifeTableError::CauseTwice { row, cause } => format!("stages[{row}].lost[{cause}].cause"),
        LifeTableError::MoreThanEntered { row, .. } => format!("stages[{row}]"),
    };
    ReckonError::field(field, error)
}
