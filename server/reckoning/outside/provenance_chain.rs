//! Chains of provenance.

use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::provenance_chain::{Node, follow, generations};

pub(super) const PROVENANCE_CHAIN: Entry = Entry {
    names: &["provenance-chain", "provenance_chain"],
    about: "whether the provenance of an animal or brood is complete up to those that came from outside, and what is missing",
    input: r#"{"subject": "a3", "nodes": [{"id": "a3", "name": "animal 0003P", "source": {"code": "C", "pre_convention": false},
  "out_of": "c1", "papers": [{"what": "permit 7", "official": true}]},
 {"id": "c1", "name": "cohort B-1", "source": {"code": "C", "pre_convention": false},
  "brood": {"sac": "sac 1", "dam": "a1", "dam_stated": "", "sires": ["a2"], "sire_stated": "", "dam_mated_in_wild": false}}, ...]}
A node with neither "out_of" nor "brood" came from outside. Null and empty ones may be left out. "official": an authority's paper for
this very animal or brood."#,
    output: r#"{"complete": false, "missing": [{"about": id, "text"}], "steps": [{"id", "back": generations, "role", "of": id}],
"generation": {id: "W", "F1", and on, or "unknown"}}: role is itself, out-of, dam, sire or possible-sire"#,
    formula: "Every animal or batch that came from outside needs a paper; every brood a dam and a sire that are known, or stated with a paper on file with the brood; each of several possible sires is asked for. An authority's paper for a bred animal or brood stands for what came before it. C and F cannot be for a wild-mated dam's brood, and U needs a paper.",
    source: "source codes: CITES Res. Conf. 12.3 and Notification 1998/14; generations: CITES Res. Conf. 10.16; papers of both parents: common practice, no source",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    subject: String,
    nodes: Rows<Node>,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let chain = follow(&given.subject, &given.nodes).map_err(|error| ReckonError::field("nodes", error))?;
    let all: Map<String, Value> =
        generations(&given.nodes).into_iter().map(|(id, (generation, _))| (id, json!(generation.to_string()))).collect();
    Ok(json!({ "complete": chain.complete(), "missing": chain.missing, "steps": chain.steps, "generation": all }))
}
