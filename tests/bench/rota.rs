//! The large days of the reference file, with how near each answer is to the best that is known.

use std::collections::BTreeMap;

use serde_json::Value;
use silkward::reckoning::rota::{Duty, Person, share_out, share_out_near};

use super::{line, median};

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

fn small<T: TryFrom<u64>>(value: &Value) -> T {
    T::try_from(value.as_u64().unwrap()).ok().unwrap()
}

fn people(input: &Value) -> Vec<Person> {
    let person = |of: &Value| Person {
        id: text(&of["id"]),
        clearance: small(&of["clearance"]),
        minutes: small(&of["minutes"]),
        present: of["present"].as_bool().unwrap(),
    };
    input["people"].as_array().unwrap().iter().map(person).collect()
}

fn duties(input: &Value) -> Vec<Duty> {
    let duty = |of: &Value| Duty {
        id: text(&of["id"]),
        minutes: small(&of["minutes"]),
        required_clearance: small(&of["required_clearance"]),
        people: small(&of["people"]),
        rack: text(&of["rack"]),
        urgency: small(&of["urgency"]),
        pinned_to: of["pinned_to"].as_str().map(str::to_owned),
    };
    input["duties"].as_array().unwrap().iter().map(duty).collect()
}

pub fn run() {
    let file = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/oracles/rota.json")).unwrap();
    let file: Value = serde_json::from_str(&file).unwrap();
    for case in file["cases"].as_array().unwrap().iter().filter(|case| case["id"].as_str().unwrap().starts_with("large")) {
        let (people, duties) = (people(&case["input"]), duties(&case["input"]));
        let mut rota = None;
        let took = median(3, || rota = Some(share_out(&people, &duties).unwrap()));
        let rota = rota.unwrap();
        let best = &case["expected"];
        let more = format!(
            "left {} (best known {}), fullest {:.4} (best known {:.4}, proven {:.4})",
            rota.unassigned_weight,
            best["unassigned_weight"]["best_found"],
            rota.max_load_share,
            best["max_load_share"]["best_found"].as_f64().unwrap(),
            best["max_load_share"]["lower_bound"].as_f64().unwrap()
        );
        line(case["id"].as_str().unwrap(), took, &more);
        let before: BTreeMap<String, Vec<String>> = rota.assignments.into_iter().map(|given| (given.duty, given.people)).collect();
        let mut moved = 0;
        let took = median(3, || moved = share_out_near(&people, &duties, &before).unwrap().moved);
        line(&format!("{} again, near the first", case["id"].as_str().unwrap()), took, &format!("{moved} moved"));
    }
}
