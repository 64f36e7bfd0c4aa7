//! Sharing out a day's duties.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::rota::{self, Rota, RotaError, share_out_near};

pub(super) const ROTA: Entry = Entry {
    names: &["rota"],
    about: "a day's duties shared out: least urgency left unassigned, then the least greatest share of anybody's minutes",
    input: r#"{"people": [{"id": "p1", "clearance": 2, "minutes": 240, "present": true}],
"duties": [{"id": "d1", "minutes": 10, "required_clearance": 1, "people": 1, "rack": "r1", "urgency": 2, "pinned_to": null}],
"before": {"d1": ["p1"]}}: "people" of a duty is 1 or 2; the second person may have one clearance less. "before" is an
earlier rota to stay near to, and may be left out."#,
    output: r#"{"unassigned_weight", "unassigned_weight_lower_bound", "max_load_share", "lower_bound" (of the share), "proven", "moved",
"assignments": [{"duty", "people"}], "unassigned": [{"duty", "reason"}], "loads": [{"person", "minutes", "of", "share", "racks"}]}"#,
    formula: "1. least sum of urgency of unassigned duties; 2. least value of the greatest load / minutes; 3. fewest duties with other people than before; 4. fewest racks a person. Within clearances, minutes, presence and pins.",
    source: "complete search for small rotas; longest processing time first (Graham 1969) and exchanges for larger ones; bounds by clearance (Hall's condition)",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    people: Rows<Person>,
    duties: Rows<Duty>,
    #[serde(default)]
    before: BTreeMap<String, Vec<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Person {
    id: String,
    clearance: u8,
    minutes: u32,
    present: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Duty {
    id: String,
    minutes: u32,
    required_clearance: u8,
    people: u8,
    rack: String,
    urgency: u32,
    pinned_to: Option<String>,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let person = |of: Person| rota::Person { id: of.id, clearance: of.clearance, minutes: of.minutes, present: of.present };
    let duty = |of: Duty| rota::Duty {
        id: of.id,
        minutes: of.minutes,
        required_clearance: of.required_clearance,
        people: of.people,
        rack: of.rack,
        urgency: of.urgency,
        pinned_to: of.pinned_to,
    };
    let people: Vec<rota::Person> = given.people.0.into_iter().map(person).collect();
    let duties: Vec<rota::Duty> = given.duties.0.into_iter().map(duty).collect();
    let rota = share_out_near(&people, &duties, &given.before).map_err(|error| {
        let field = if matches!(error, RotaError::PersonTwice(_)) { "people" } else { "duties" };
        ReckonError::field(field, error)
    })?;
    Ok(show(&rota))
}

fn show(rota: &Rota) -> Value {
    let assignments: Vec<Value> = rota.assignments.iter().map(|of| json!({ "duty": of.duty, "people": of.people })).collect();
    let unassigned: Vec<Value> = rota.unassigned.iter().map(|of| json!({ "duty": of.duty, "reason": of.reason })).collect();
    let load = |of: &rota::Load| json!({ "person": of.person, "minutes": of.minutes, "of": of.of, "share": of.share, "racks": of.racks });
    let loads: Vec<Value> = rota.loads.iter().map(load).collect();
    json!({
        "unassigned_weight": rota.unassigned_weight, "unassigned_weight_lower_bound": rota.unassigned_weight_lower_bound,
        "max_load_share": rota.max_load_share, "lower_bound": rota.lower_bound, "proven": rota.proven, "moved": rota.moved,
        "assignments": assignments, "unassigned": unassigned, "loads": loads,
    })
}
