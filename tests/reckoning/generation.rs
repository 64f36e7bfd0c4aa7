//! Captive generations (CITES Res. Conf. 10.16) against the reference file, with their reasons.

use serde_json::{Value, json};
use silkward::reckoning::pedigree::{CaptiveGeneration, Generation, Origin, Recorded, captive_generations};
use silkward::reckoning::reckon;

use super::oracles::{cases, expects_error};
use super::pedigree::animal;

fn recorded(words: &str, origin: Origin, mated_in_wild: bool) -> Recorded<String> {
    Recorded { individual: animal(words), origin, mated_in_wild }
}

fn wild(words: &str) -> Recorded<String> {
    recorded(words, Origin::Wild, false)
}

fn captive(words: &str) -> Recorded<String> {
    recorded(words, Origin::Captive, false)
}

fn of(all: &[Recorded<String>], id: &str) -> CaptiveGeneration<String> {
    captive_generations(all).unwrap().into_iter().find(|of| of.id == id).unwrap()
}

#[test]
fn the_reference_file_is_met_from_outside() {
    for case in cases("generation") {
        let got = reckon("generation", &case["input"].to_string());
        assert_eq!(got.is_err(), expects_error(&case), "{} {got:?}", case["id"]);
        if let Ok(got) = got {
            let got: Value = serde_json::from_str(&got).unwrap();
            assert_eq!(got["generation"], case["expected"]["generation"], "{}", case["id"]);
        }
    }
}

#[test]
fn every_generation_comes_with_its_reason() {
    let house = [
        captive("z x y"),
        captive("x w1 w2"),
        captive("y w1 w2"),
        captive("back x w2"),
        captive("late z x"),
        captive("later x z"),
        recorded("brood w1 -", Origin::Captive, true),
        wild("w1"),
        wild("w2"),
        recorded("b", Origin::Unknown, false),
        captive("half w1 b"),
        captive("both b b2"),
        captive("dam b w1"),
        captive("b2"),
        captive("single w1 -"),
        captive("fathered - w2"),
    ];
    let reasons: Vec<String> = captive_generations(&house).unwrap().into_iter().map(|of| of.reason).collect();
    assert_eq!(
        reasons,
        [
            "F2: both parents F1",
            "F1: both parents W",
            "F1: both parents W",
            "F1: dam x F1, sire w2 W; the sire's is lower and counts",
            "F2: dam z F2, sire x F1; the sire's is lower and counts",
            "F2: dam x F1, sire z F2; the dam's is lower and counts",
            "W: its dam w1 was already mated when taken from the wild",
            "W: taken from the wild",
            "W: taken from the wild",
            "unknown: its origin is not known",
            "unknown: the generation of sire b is not known",
            "unknown: the generations of dam b and sire b2 are not known",
            "unknown: the generation of dam b is not known",
            "unknown: no parents on record",
            "unknown: no sire on record",
            "unknown: no dam on record",
        ]
    );
}

#[test]
fn a_record_that_contradicts_itself_claims_no_generation() {
    let house = [captive("d w w"), wild("w"), recorded("x d -", Origin::Captive, true), recorded("y", Origin::Unknown, true)];
    let x = of(&house, "x");
    assert_eq!(x.generation, Generation::Unknown);
    assert_eq!(x.reason, "unknown: recorded as mated in the wild, but its dam d was not taken from the wild");
    assert_eq!(of(&house, "y").reason, "W: its dam was already mated when taken from the wild");
}

#[test]
fn faults_name_the_animals() {
    let error = captive_generations(&[captive("a b -"), captive("b a -")]).unwrap_err().to_string();
    assert!(error.contains("each the offspring of the next: a, b"), "{error}");
    let input = json!({"animals": [{"id": "a", "origin": "bred"}]});
    let error = reckon("generation", &input.to_string()).unwrap_err().to_string();
    assert_eq!(error, "animals[0].origin: “bred” is not a known origin");
}

#[test]
fn a_hundred_thousand_generations_do_not_stop_it() {
    let mut line = vec![Recorded {
        individual: silkward::reckoning::pedigree::Individual { id: 0, dam: None, sire: None },
        origin: Origin::Wild,
        mated_in_wild: false,
    }];
    for id in 1..100_000_u32 {
        let individual = silkward::reckoning::pedigree::Individual { id, dam: Some(id - 1), sire: Some(id - 1) };
        line.push(Recorded { individual, origin: Origin::Captive, mated_in_wild: false });
    }
    line.reverse();
    assert_eq!(captive_generations(&line).unwrap()[0].generation, Generation::Filial(99_999));
}
