//! The ancestors that two animals have in common.

use serde::Deserialize;
use serde_json::{Value, json};

use super::animals::{Animal, Id, individuals};
use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::pedigree::{CommonAncestor, Pedigree};

pub(super) const COMMON_ANCESTORS: Entry = Entry {
    names: &["common_ancestors"],
    about: "through which ancestors a dam and a sire are related, and what each adds to the inbreeding of their offspring",
    input: r#"{"animals": [{"id": "z", "dam": "x", "sire": null}], "dam": "x", "sire": "z", "limit": 20}: animals as for pedigree; at most
"limit" ancestors are listed (20 without it)"#,
    output: r#"{"kinship", "relationship", "ancestors": [{"id", "contribution", "inbreeding", "paths", "nearest_path_dam_side",
"nearest_path_sire_side"}], "more", "more_contribution", "complete", "and_more"}: contributions add up to the kinship; paths are
pairs of paths, each named from the dam or sire to the ancestor; "complete" is false where the oldest ancestors were not looked at"#,
    formula: "contribution of A = sum over pairs of paths (n1 and n2 steps, nothing in common but A) of (1/2)^(n1 + n2 + 1) (1 + F_A)",
    source: "Wright 1922",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    animals: Rows<Animal>,
    dam: Id,
    sire: Id,
    #[serde(default = "usual_limit")]
    limit: u32,
}

fn usual_limit() -> u32 {
    20
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let refused = |error| ReckonError::field("animals", error);
    let pedigree = Pedigree::new(&individuals(given.animals.0)).map_err(refused)?;
    let inbreeding = pedigree.inbreeding().map_err(refused)?;
    for (field, id) in [("dam", &given.dam), ("sire", &given.sire)] {
        inbreeding.of(id).ok_or_else(|| ReckonError::field(field, "is not among the animals"))?;
    }
    let found = inbreeding.common_ancestors(&given.dam, &given.sire, given.limit as usize).map_err(refused)?;
    let ancestors: Vec<Value> = found.ancestors.iter().map(show).collect();
    Ok(json!({
        "kinship": found.kinship, "relationship": found.relationship.sentence, "ancestors": ancestors, "more": found.more,
        "more_contribution": found.more_contribution, "complete": found.complete, "and_more": found.and_more,
    }))
}

fn show(ancestor: &CommonAncestor<Id>) -> Value {
    json!({
        "id": ancestor.id, "contribution": ancestor.contribution, "inbreeding": ancestor.inbreeding, "paths": ancestor.paths,
        "nearest_path_dam_side": ancestor.nearest_path_dam_side, "nearest_path_sire_side": ancestor.nearest_path_sire_side,
    })
}
