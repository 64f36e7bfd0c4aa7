use serde_json::{Value, json};
use silkward::reckoning::{names, reckon};

use super::oracles::{cases, expects_error, near};

fn run(name: &str, input: &Value) -> Result<Value, String> {
    reckon(name, &input.to_string()).map(|output| serde_json::from_str(&output).unwrap()).map_err(|error| error.to_string())
}

#[test]
fn tags_and_units_take_the_shapes_of_the_reference_files() {
    for case in cases("check_digit") {
        let got = run("tag", &case["input"]);
        assert_eq!(got.is_err(), expects_error(&case), "{case}");
        assert!(got.is_err() || got.unwrap() == case["expected"], "{case}");
    }
    for case in cases("units") {
        let got = run("units", &case["input"]);
        assert_eq!(got.is_err(), expects_error(&case), "{case}");
        if let Ok(got) = got {
            let expected = case["expected"]["value"].as_f64().unwrap();
            assert!(near(&case, got["value"].as_f64().unwrap(), expected), "{case}");
        }
    }
}

fn small_ledger() -> Value {
    json!({"lines": [
        {"id": 1, "day": "2026-03-01", "from": "in", "to": "i1", "quantity": 40, "kind": "received"},
        {"id": 2, "day": "2026-03-02", "from": "i1", "to": "lost", "quantity": 4, "kind": "lost", "cause": "mould"},
        {"id": 3, "day": "2026-03-09", "from": "i1", "to": "i2", "quantity": 30, "kind": "moulted"},
    ], "held": 6})
}

#[test]
fn a_ledger_gives_its_balance() {
    let got = run("ledger", &small_ledger()).unwrap();
    assert_eq!(got["alive"], 36);
    assert_eq!(got["free"], 30);
    assert_eq!(got["stages"], json!({"i1": 6, "i2": 30}));
    assert_eq!(got["lost_by_cause"], json!({"mould": 4}));
    assert_eq!(got["reached"]["i2"], json!({"reached": 30, "of": 40, "ratio": 0.75}));
    assert_eq!(got["conserved"], true);
    let mut earlier = small_ledger();
    earlier["day"] = json!("2026-03-05");
    assert_eq!(run("ledger", &earlier).unwrap()["stages"], json!({"i1": 36}));
}

#[test]
fn mistakes_are_one_line_that_names_the_field() {
    let mut ledger = small_ledger();
    ledger["lines"][1]["quantity"] = json!("four");
    let mut unknown = small_ledger();
    unknown["lines"][2]["to"] = json!("L1");
    let mut empty = small_ledger();
    empty["lines"][0]["quantity"] = json!(0);
    let mut nameless = small_ledger();
    nameless["lines"][0].as_object_mut().unwrap().remove("id");
    let mistakes = [
        (run("ledger", &nameless), "lines[0].id: is missing"),
        (run("ledger", &ledger), "lines[1].quantity:"),
        (run("ledger", &unknown), "lines[2].to: “L1” is not a known bucket"),
        (run("ledger", &empty), "lines: the quantity must be at least 1"),
        (run("ledger", &json!({})), "lines: is missing"),
        (run("units", &json!({"value": 1, "from": "furlong", "to": "cm"})), "from: “furlong”"),
        (run("units", &json!({"from": "in", "to": "cm"})), "value: is missing"),
        (run("tag", &json!({"body": 7})), "body:"),
        (run("tag", &json!({})), "give either"),
        (run("tag", &json!([])), "the input is not a JSON object"),
    ];
    for (got, start) in mistakes {
        let message = got.unwrap_err();
        assert!(message.starts_with(start), "{message}");
        assert_eq!(message.lines().count(), 1, "{message}");
    }
}

#[test]
fn an_unknown_name_lists_the_known_ones() {
    assert!(names().contains(&"units"));
    let message = run("horoscope", &json!({})).unwrap_err();
    assert_eq!(message, format!("“horoscope” is not a reckoning; there are: {}", names().join(", ")));
    assert!(reckon("tag", "{").is_err());
}
