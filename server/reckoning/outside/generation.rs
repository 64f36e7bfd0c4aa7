//! Captive generations.

use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::animals::Id;
use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::pedigree::{Individual, Origin, Recorded, captive_generations};

pub(super) const GENERATION: Entry = Entry {
    names: &["generation"],
    about: "the captive generation of each animal (W, F1, F2 and on), with the reason",
    input: r#"{"animals": [{"id": "z", "dam": "x", "sire": "y", "origin": "captive", "mated_in_wild": false}]}: animals in any order;
origins: wild, captive, unknown; "mated_in_wild" (false without it): the dam was taken from the wild already mated"#,
    output: r#"{"generation": {id: "W", "F1", "F2", and on, or "unknown"}, "reason": {id: one sentence}}"#,
    formula: "W: taken from the wild, or of a dam that was taken already mated. Otherwise captive-bred with both parents of known generation: the lower of their generations (W is 0) and one more.",
    source: "CITES Resolution Conf. 10.16 (Rev.); numbers above F2 are common usage",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    animals: Rows<Animal>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Animal {
    id: Id,
    dam: Option<Id>,
    sire: Option<Id>,
    origin: Origin,
    #[serde(default)]
    mated_in_wild: bool,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let recorded = |animal: Animal| Recorded {
        individual: Individual { id: animal.id, dam: animal.dam, sire: animal.sire },
        origin: animal.origin,
        mated_in_wild: animal.mated_in_wild,
    };
    let animals: Vec<Recorded<Id>> = given.animals.0.into_iter().map(recorded).collect();
    let all = captive_generations(&animals).map_err(|error| ReckonError::field("animals", error))?;
    let generations: Map<String, Value> = all.iter().map(|of| (of.id.to_string(), json!(of.generation.to_string()))).collect();
    let reasons: Map<String, Value> = all.into_iter().map(|of| (of.id.to_string(), json!(of.reason))).collect();
    Ok(json!({ "generation": generations, "reason": reasons }))
}
