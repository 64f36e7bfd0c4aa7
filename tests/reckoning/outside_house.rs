//! The reckonings of the house's own rules, run on data from outside. The values are those of the rules' own tests;
//! what is checked here is the shape, the faults, and that no input at all makes the program stop.

use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::{entries, names, reckon};

fn run(name: &str, input: &Value) -> Result<Value, String> {
    reckon(name, &input.to_string()).map(|output| serde_json::from_str(&output).unwrap()).map_err(|error| error.to_string())
}

fn hazard_facts() -> Value {
    json!({"venom": "significant", "setae": "none", "defensive": true, "very_fast": true, "adult_span_max_mm": 150, "life_stage": "adult"})
}

#[test]
fn a_hazard_band_comes_with_reasons_requirements_and_a_checklist() {
    let got = run("hazard", &json!({"facts": hazard_facts()})).unwrap();
    assert_eq!((&got["band"], &got["word"]), (&json!(3), &json!("dangerous")));
    assert_eq!(got["reasons"], json!(["medically significant venom, at every life stage"]));
    assert_eq!(got["requires"]["look"], json!({"clearance": 0, "persons": 1}));
    assert_eq!(got["requires"]["open"], json!({"clearance": 2, "persons": 1}));
    assert_eq!(got["requires"]["hands-in"], json!({"clearance": 3, "persons": 2}));
    assert!(got["checklist"].as_array().unwrap().contains(&json!("second person in the room and briefed")));
    let strict = json!([{"band": 3, "exposure": "open", "clearance": 3, "persons": 2}]);
    let strict = run("hazard", &json!({"facts": hazard_facts(), "table": strict})).unwrap();
    assert_eq!(strict["requires"]["open"], json!({"clearance": 3, "persons": 2}));
}

fn sale_facts() -> Value {
    json!({
        "life_stage": "juvenile", "stage": "i6", "span_mm": 50, "last_moult": "2026-05-01", "ate_since_moult": true,
        "moult_state": "normal", "guarding_sac": false, "held_back": false, "listed": true,
        "source": {"code": "C", "pre_convention": false}, "has_papers": true, "last_fed": "2026-05-25"
    })
}

#[test]
fn a_sale_is_free_or_has_reasons_against_it() {
    let mut input = json!({"day": "2026-06-01", "facts": sale_facts()});
    assert_eq!(run("sale_readiness", &input).unwrap(), json!({"may_leave": true, "findings": []}));
    input["facts"]["last_moult"] = json!("2026-05-30");
    let got = run("sale_readiness", &input).unwrap();
    assert_eq!(got["may_leave"], false);
    assert_eq!(got["findings"], json!([{"blocks": true, "text": "moulted on 30 May 2026; may leave from 9 June 2026"}]));
}

#[test]
fn a_source_is_accepted_or_told_why_not() {
    let got = run("provenance", &json!({"source": "c/o"})).unwrap();
    assert_eq!((&got["accepted"], &got["code"], &got["pre_convention"]), (&json!(true), &json!("C"), &json!(true)));
    for input in [json!({"source": "F", "dam_mated_in_wild": true}), json!({"source": "D"}), json!({"source": ""})] {
        let got = run("provenance", &input).unwrap();
        assert_eq!((&got["accepted"], &got["code"]), (&json!(false), &Value::Null));
        assert!(got["reason"].as_str().is_some_and(|reason| reason.len() > 10), "{got}");
    }
}

#[test]
fn a_sac_has_its_parentage_and_its_days() {
    let input = json!({
        "sac_laid": "2026-04-01", "dam_moults": ["2025-08-20", "2026-06-01"], "group": "nw-slow",
        "pairings": [{"id": 2, "sire": 7, "on": "2025-11-02"}, {"id": 1, "sire": 5, "on": "2025-06-01"}, {"id": 3, "sire": 9, "on": "2026-04-02"}]
    });
    let got = run("breeding", &input).unwrap();
    assert_eq!((&got["standing"], &got["void"]), (&json!([2]), &json!([1])));
    assert_eq!(got["sire"], json!({"outcome": "known", "sire": 7}));
    assert_eq!(got["pull"], json!({"from": "2026-05-06", "to": "2026-05-16"}));
    assert_eq!(got["expected"][2]["stage"], "i2");
    assert_eq!(got["expected"][2]["from"], "2026-05-31");
    let unpaired = run("breeding", &json!({"sac_laid": "2026-04-01", "pairings": []})).unwrap();
    assert_eq!((&unpaired["sire"]["outcome"], &unpaired["pull"]), (&json!("not-known"), &Value::Null));
}

#[test]
fn an_enclosure_has_its_measures() {
    let got = run("enclosure", &json!({"span_mm": 60, "length_mm": 150})).unwrap();
    assert_eq!(
        got,
        json!({"needed": {"length_mm": 180, "width_mm": 120, "fall_gap_mm": 90}, "due": true, "too_large_for_spiderling": false})
    );
    assert_eq!(run("enclosure", &json!({"span_mm": 60})).unwrap()["due"], Value::Null);
}

fn sac() -> Value {
    json!({"kind": "sac", "id": 3, "laid_on": "2026-04-01", "with_dam": true, "opened": false, "hazard": hazard_facts(),
        "pull": {"from_day": 28, "to_day": 35}})
}

fn care() -> Value {
    json!({"feed_min_days": 7, "feed_max_days": 10, "uneaten_hours": 24, "moult_min_days": 60, "moult_max_days": 150,
        "moult_check_days": 900, "water_days": 900, "clean_days": 900, "count_days": 900})
}

fn animal() -> Value {
    json!({"kind": "animal", "id": 1, "life_stage": "juvenile", "hazard": hazard_facts(), "care": care(), "started_on": "2026-01-01",
        "last_meal": {"day": "2026-03-01", "outcome": "took"}, "refusals_in_row": 0, "moult_state": "normal", "guarding_sac": false,
        "holds": [{"kind": "agitated", "from": "2026-03-01", "blocks": "open", "until": "2026-05-01", "reason": ""}]})
}

fn cohort() -> Value {
    json!({"kind": "cohort", "id": 2, "in_vials": true, "counts": {"i2": 90}, "hazard": hazard_facts(), "care": care(),
        "started_on": "2026-01-01", "last_meal": {"day": "2026-03-01", "outcome": "took"}, "moulted_then": 0})
}

#[test]
fn a_day_can_be_asked_why() {
    let room = json!({"kind": "room", "id": 4, "racks": 2, "last_reading": "2026-04-09", "since": "2026-04-01"});
    let mut input = json!({"day": "2026-04-10", "subjects": [animal(), room]});
    assert_eq!(run("planner", &input).unwrap()["outlooks"], Value::Null);
    input["why"] = json!(true);
    // A profile of its own: the retry, the fast by size, a rule set apart and a score are all taken.
    input["subjects"][0]["care"]["fast"] = json!([{"from_mm": 0, "min_days": 1, "max_days": 60}]);
    input["subjects"][0]["span_mm"] = json!(50);
    input["subjects"][0]["last_moult"] = json!("2026-03-05");
    input["subjects"][0]["condition"] = json!({"condition": "heavy", "day": "2026-03-10"});
    input["subjects"][0]["apart"] =
        json!([{"kind": "no-feed", "days": null, "from": "2026-04-01", "until": "2026-04-30", "reason": "rests", "by": "Ines"}]);
    let got = run("planner", &input).unwrap();
    let feed = &got["outlooks"][0]["duties"][1];
    assert_eq!((&feed["kind"], &feed["standing"]), (&json!("feed"), &json!({"standing": "from", "day": "2026-05-04"})));
    let rules: Vec<&str> = feed["rules"].as_array().unwrap().iter().map(|rule| rule.as_str().unwrap()).collect();
    assert_eq!(rules.len(), 3, "{rules:?}");
    assert!(rules[0].contains("scored 4, heavy") && rules[1].contains("60 days without food") && rules[2].contains("by Ines"), "{rules:?}");
    assert_eq!(got["outlooks"][1]["duties"][0]["kind"], "room-reading");
    input["subjects"][0]["condition"] = json!({"condition": "fat", "day": "2026-03-10"});
    assert!(run("planner", &input).is_err());
}

#[test]
fn a_day_has_its_duties_by_default_rules_or_the_houses_own() {
    let mut input = json!({"day": "2026-04-10", "subjects": [sac(), animal(), cohort()]});
    let got = run("planner", &input).unwrap();
    let duties: Vec<(&Value, &Value)> =
        got["duties"].as_array().unwrap().iter().map(|duty| (&duty["subject"]["kind"], &duty["kind"])).collect();
    let expected = [("animal", "feed"), ("cohort", "feed"), ("sac", "sac-check")].map(|(subject, kind)| (json!(subject), json!(kind)));
    assert_eq!(duties, expected.iter().map(|(subject, kind)| (subject, kind)).collect::<Vec<_>>());
    let feed = &got["duties"][0];
    assert_eq!((&feed["due_on"], &feed["clearance"], &feed["band"]), (&json!("2026-03-08"), &json!(2), &json!(3)));
    assert_eq!(feed["held"], "agitated until 1 May 2026");
    assert_eq!(got["duties"][2]["due_on"], "2026-04-08");
    // The house looks at its sacs every tenth day, and lets nobody below clearance 3 open this band.
    input["rules"] = json!({"sac_with_dam_days": 10});
    input["table"] = json!([{"band": 3, "exposure": "open", "clearance": 3, "persons": 1}]);
    let strict = run("planner", &input).unwrap();
    assert_eq!(strict["duties"].as_array().unwrap().len(), 2);
    assert_eq!(strict["duties"][0]["clearance"], 3);
}

/// An input with the value at one place replaced; nothing takes the field out.
fn with(input: &Value, place: &str, value: Option<Value>) -> Value {
    let mut input = input.clone();
    let (parent, field) = place.rsplit_once('/').unwrap();
    let parent = input.pointer_mut(parent).unwrap();
    match value {
        Some(value) => parent[field] = value,
        None => drop(parent.as_object_mut().unwrap().remove(field)),
    }
    input
}

#[test]
fn mistakes_are_one_line_that_names_the_field() {
    let hazard = json!({"facts": hazard_facts()});
    let sale = json!({"day": "2026-06-01", "facts": sale_facts()});
    let planner = json!({"day": "2026-04-10", "subjects": [sac(), animal()]});
    let prey = json!({"events": [{"probability": 0.5, "prey": 1}, {"probability": 0.5, "prey": 1}]});
    let money = json!({"lines": [{"quantity": 1, "unit_minor": 100}], "tax_percent": "20", "prices_include_tax": false});
    let breeding = json!({"sac_laid": "2026-04-01", "pairings": [{"id": 1, "sire": 2, "on": "2026-01-01"}]});
    let loose = json!([{"band": 3, "exposure": "open", "clearance": 1, "persons": 1}]);
    let mistakes = [
        ("hazard", with(&hazard, "/facts/venom", Some(json!("deadly"))), "facts.venom: “deadly”"),
        ("hazard", with(&hazard, "/facts/setae", None), "facts.setae: is missing"),
        ("hazard", with(&hazard, "/facts/colour", Some(json!("blue"))), "facts.colour: unknown field `colour`"),
        ("hazard", with(&hazard, "/facts/adult_span_max_mm", Some(json!(-1))), "facts.adult_span_max_mm: invalid value"),
        (
            "hazard",
            with(&hazard, "/facts/cautions", Some(json!([{"level": 4, "text": ""}]))),
            "facts.cautions[0].level: 4 is not a hazard band",
        ),
        ("hazard", with(&hazard, "/table", Some(loose)), "table[0]: band 3"),
        ("sale_readiness", with(&sale, "/day", Some(json!("2026-02-30"))), "day: "),
        ("sale_readiness", with(&sale, "/facts/stage", Some(json!("L1"))), "facts.stage: “L1”"),
        ("sale_readiness", with(&sale, "/facts/holds", Some(json!([{"kind": "sulking"}]))), "facts.holds[0].kind: “sulking”"),
        ("planner", with(&planner, "/subjects/0/kind", None), "subjects[0].kind: is missing"),
        ("planner", with(&planner, "/subjects/0/kind", Some(json!("plant"))), "subjects[0]: kind: “plant”"),
        ("planner", with(&planner, "/subjects/1/care/water_days", Some(json!("7"))), "subjects[1]: care.water_days: invalid type"),
        ("planner", with(&planner, "/subjects/1/care", None), "subjects[1].care: is missing"),
        ("planner", with(&planner, "/subjects/1/wings", Some(json!(2))), "subjects[1]: wings: unknown field"),
        ("planner", with(&planner, "/rules", Some(json!({"zone": "Middle/Earth"}))), "rules.zone: "),
        ("planner", with(&planner, "/rules", Some(json!({"zones": "UTC"}))), "rules.zones: unknown field"),
        ("provenance", json!({"source": 7}), "source: invalid type"),
        ("breeding", with(&breeding, "/pairings/0/on", Some(json!("soon"))), "pairings[0].on: "),
        ("breeding", with(&breeding, "/group", Some(json!("moon"))), "group: “moon”"),
        ("enclosure", json!({"span_mm": 0}), "span_mm: a leg span must be"),
        ("enclosure", json!({"span_mm": 2.5}), "span_mm: invalid type"),
        ("prey_forecast", with(&prey, "/events/1/probability", Some(json!(1.2))), "events[1].probability: the chance"),
        ("prey_forecast", with(&prey, "/events/1/prey", Some(json!(-2))), "events[1].prey: invalid value"),
        ("prey_forecast", with(&prey, "/events/0/prey", Some(json!(1.5))), "events[0].prey: invalid type"),
        ("money", with(&money, "/tax_percent", Some(json!("-5"))), "tax_percent: a tax rate can't be negative"),
        ("money", with(&money, "/tax_percent", Some(json!(7.7))), "tax_percent: invalid type"),
        ("money", with(&money, "/rounding", Some(json!("up"))), "rounding: “up”"),
        ("money", with(&money, "/lines/0/quantity", Some(json!(-1))), "lines[0].quantity: invalid value"),
        ("money", with(&money, "/lines/0/unit_minor", Some(json!(u64::MAX))), "lines[0]: the total is too large"),
    ];
    for (name, input, start) in mistakes {
        let message = run(name, &input).unwrap_err();
        assert!(message.starts_with(start), "{name}: {message}");
        assert_eq!(message.lines().count(), 1, "{message}");
        assert!(message.chars().count() < 1_200, "{message}");
    }
}

#[test]
fn what_was_given_is_quoted_in_one_line_of_bearable_length() {
    let message =
        run("money", &json!({"lines": [], "tax_percent": "1\n2", "prices_include_tax": false, "rounding": "a\nb\r\u{0}c"})).unwrap_err();
    assert_eq!(message.lines().count(), 1, "{message:?}");
    let long = run("breeding", &json!({"sac_laid": "2026-04-01", "pairings": [], "group": "x\n".repeat(100_000)})).unwrap_err();
    assert!(long.starts_with("group: “x x x") && long.ends_with('…') && long.len() < 1_200, "{}", long.len());
    assert!(reckon(&"y\n".repeat(100_000), "{}").unwrap_err().to_string().lines().count() == 1);
}

#[test]
fn a_list_within_the_facts_is_bounded_too() {
    let cautions = vec![r#"{"level":1,"text":""}"#; 1_000_001].join(",");
    let facts = hazard_facts().to_string().replace('}', &format!(",\"cautions\":[{cautions}]}}"));
    let refused = reckon("hazard", &format!("{{\"facts\":{facts}}}")).unwrap_err().to_string();
    assert_eq!(refused, "facts.cautions: has more than 1000000 rows; give fewer");
}

#[test]
fn each_name_calls_one_reckoning() {
    let mut all: Vec<&str> = entries().iter().flat_map(|entry| entry.names.iter().copied()).collect();
    let count = all.len();
    all.sort_unstable();
    all.dedup();
    assert_eq!(all.len(), count, "two reckonings share a name");
    for name in ["breeding", "enclosure", "hazard", "money", "planner", "prey_forecast", "provenance", "sale_readiness"] {
        assert!(names().contains(&name), "{name}");
    }
    assert_eq!(run("prey", &json!({"events": []})), run("prey_forecast", &json!({"events": []})));
}

/// The first and last days that a date can be, and some between.
fn any_day() -> impl Strategy<Value = Value> {
    const DAYS: [&str; 8] =
        ["-262143-01-01", "-262143-01-02", "0000-01-01", "2026-03-01", "2026-03-29", "9999-12-31", "+262142-12-30", "+262142-12-31"];
    prop::sample::select(&DAYS).prop_map(|day| json!(day))
}

fn any_instant() -> impl Strategy<Value = Value> {
    const INSTANTS: [&str; 4] = ["-262143-01-01T00:00:00Z", "2026-03-01T08:00:00Z", "2026-10-25T01:30:00+02:00", "+262142-12-31T23:59:59Z"];
    prop_oneof![Just(Value::Null), prop::sample::select(&INSTANTS).prop_map(|instant| json!(instant))]
}

fn any_count() -> impl Strategy<Value = Value> {
    prop::sample::select(&[0_u32, 1, 7, 200, u32::MAX]).prop_map(|count| json!(count))
}

/// A value of the kind that a field of this name takes, at the limits.
fn any_value(field: &str) -> BoxedStrategy<Value> {
    match field {
        "left_in_at" => any_instant().boxed(),
        "moult_state" => prop::sample::select(&["normal", "pre-moult", "moulting"]).prop_map(|state| json!(state)).boxed(),
        "outcome" => prop::sample::select(&["took", "refused", "left-in"]).prop_map(|outcome| json!(outcome)).boxed(),
        "guarding_sac" | "in_vials" | "opened" | "with_dam" | "emergency" => any::<bool>().prop_map(|is| json!(is)).boxed(),
        "zone" => {
            prop::sample::select(&["UTC", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Europe/London"]).prop_map(|zone| json!(zone)).boxed()
        }
        "span_on" | "started_on" | "last_moult" | "moult_state_since" | "last_moult_check" | "last_water" | "last_clean"
        | "rehoused_on" | "last_count" | "laid_on" | "pulled_on" | "last_check" | "day" | "since" | "from" | "until" => any_day().boxed(),
        _ => any_count().boxed(),
    }
}

/// An object with each of these fields at the limits.
fn any_fields(fixed: Value, fields: &'static [&'static str]) -> BoxedStrategy<Value> {
    let start = Just(fixed).boxed();
    fields.iter().fold(start, |object, field| {
        (object, any_value(field))
            .prop_map(move |(mut object, value)| {
                object[*field] = value;
                object
            })
            .boxed()
    })
}

const CARE: &[&str] = &[
    "feed_min_days",
    "feed_max_days",
    "uneaten_hours",
    "moult_min_days",
    "moult_max_days",
    "moult_check_days",
    "water_days",
    "clean_days",
    "count_days",
];
const ANIMAL: &[&str] = &[
    "span_mm",
    "span_on",
    "enclosure_length_mm",
    "started_on",
    "refusals_in_row",
    "left_in_at",
    "last_moult",
    "moult_state",
    "moult_state_since",
    "last_moult_check",
    "last_water",
    "last_clean",
    "rehoused_on",
    "guarding_sac",
];
const COHORT: &[&str] = &[
    "in_vials",
    "span_mm",
    "started_on",
    "left_in_at",
    "last_moult",
    "moulted_then",
    "last_moult_check",
    "last_water",
    "last_clean",
    "last_count",
];
const SAC: &[&str] = &["laid_on", "pulled_on", "with_dam", "last_check", "opened"];

fn any_subject() -> impl Strategy<Value = Value> {
    let parts = (
        any_fields(json!({}), CARE),
        any_fields(json!({}), &["day", "outcome"]),
        any_fields(json!({}), &["egg", "i1", "i2", "i20"]),
        any_fields(json!({"kind": "quarantine", "blocks": "open", "reason": ""}), &["from", "until"]),
        any_fields(json!({"reason": "mould"}), &["since", "emergency"]),
        any_fields(json!({}), &["from_day", "to_day"]),
    );
    let base = json!({"id": 1, "hazard": hazard_facts()});
    let subjects = prop_oneof![
        any_fields(with(&base, "/kind", Some(json!("animal"))), ANIMAL),
        any_fields(with(&base, "/kind", Some(json!("cohort"))), COHORT),
        any_fields(with(&base, "/kind", Some(json!("sac"))), SAC),
    ];
    (subjects, parts).prop_map(|(mut subject, (care, meal, counts, hold, need, pull))| {
        let kind = subject["kind"].clone();
        if kind == "sac" {
            subject["pull"] = pull;
            return subject;
        }
        (subject["care"], subject["last_meal"], subject["holds"]) = (care, meal, json!([hold]));
        if kind == "animal" {
            (subject["life_stage"], subject["needs_rehouse"]) = (json!("adult"), need);
        } else {
            subject["counts"] = counts;
        }
        subject
    })
}

proptest! {
    #[test]
    fn no_facts_at_their_limits_stop_the_planner(
        subject in any_subject(), day in any_day(),
        rules in any_fields(json!({}), &["zone", "refusals_adult", "close_check_other_days", "sac_with_dam_days", "rehouse_after_meal_days"]),
    ) {
        let answer = run("planner", &json!({"day": day, "subjects": [subject], "rules": rules}));
        prop_assert!(answer.is_ok(), "{:?}", answer);
    }

    #[test]
    fn no_day_at_the_limits_stops_the_others(one in any_day(), two in any_day(), three in any_day(), count in any_count()) {
        let sale = with(&json!({"day": one, "facts": sale_facts()}), "/facts/last_moult", Some(two.clone()));
        let sale = with(&with(&sale, "/facts/last_fed", Some(three.clone())), "/facts/span_mm", Some(count.clone()));
        prop_assert!(run("sale_readiness", &sale).is_ok());
        let pairings = json!([{"id": 1, "sire": 2, "on": two}]);
        let sac = json!({"sac_laid": one, "pairings": pairings, "dam_moults": [three], "group": "ow-asian"});
        prop_assert!(run("breeding", &sac).is_ok());
        for zone in ["Pacific/Kiritimati", "Pacific/Pago_Pago"] {
            let day = run("calendar", &json!({"zone": zone, "date": one}));
            prop_assert!(one != "2026-03-01" || day.is_ok());
        }
        let enclosure = run("enclosure", &json!({"span_mm": u32::MAX, "length_mm": count}));
        prop_assert!(enclosure.is_ok());
    }
}
