//! Inbreeding and kinship.

use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::animals::{Animal, Id, individuals};
use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::pedigree::Pedigree;

pub(super) const PEDIGREE: Entry = Entry {
    names: &["pedigree"],
    about: "how inbred each animal of a pedigree is, and how closely pairs are related",
    input: r#"{"animals": [{"id": "z", "dam": "x", "sire": null}], "pairs": [["x", "z"]]}: animals in any order, ids are text or
whole numbers, null for an unknown parent; every parent is listed. "pairs" may be left out."#,
    output: r#"{"inbreeding": {id: F}, "kinship": [{"pair", "kinship", "offspring_inbreeding"}]}, from 0 to 1"#,
    formula: "A = T D T', D from the parents' F: 1 - (1 + F)/4 for each known parent; F = A_ii - 1; kinship of a pair = A_ij / 2 = F of their offspring, of an animal with itself (1 + F)/2. Unknown parents are unrelated and not inbred.",
    source: "Henderson 1976 (A); Sargolzaei, Iwaisaki & Colleau 2005 (the way it is reckoned); Falconer & Mackay 1996, chapter 5",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    animals: Rows<Animal>,
    #[serde(default)]
    pairs: Rows<(Id, Id)>,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let refused = |error| ReckonError::field("animals", error);
    let pedigree = Pedigree::new(&individuals(given.animals.0)).map_err(refused)?;
    let inbreeding = pedigree.inbreeding().map_err(refused)?;
    let kinships = inbreeding.kinships(&given.pairs).map_err(|error| ReckonError::field("pairs", error))?;
    let all: Map<String, Value> = inbreeding.all().map(|(id, of)| (id.to_string(), json!(of))).collect();
    let kinships: Vec<Value> = kinships
        .into_iter()
        .map(|pair| json!({ "pair": pair.pair, "kinship": pair.kinship, "offspring_inbreeding": pair.offspring_inbreeding }))
        .collect();
    Ok(json!({ "inbreeding": all, "kinship": kinships }))
}
