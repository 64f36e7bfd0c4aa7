//! Every case of every file in `tests/oracles`, through the reckoning of that name. The files say where their numbers
//! are from; `tests/oracles/README.md` sums it up.

use serde_json::{Value, json};
use silkward::reckoning::{names, reckon};

use super::oracles::{cases, compare, expects_error, files};

/// What is wrong with the answer to a case, if anything.
fn fault(name: &str, case: &Value) -> Option<String> {
    let id = &case["id"];
    match (reckon(name, &case["input"].to_string()), expects_error(case)) {
        (Ok(answer), false) => {
            let answer = serde_json::from_str(&answer).unwrap();
            compare(case, &answer).err().map(|difference| format!("{name} {id}{difference}"))
        }
        (Ok(answer), true) => Some(format!("{name} {id}: must be refused, got {answer}")),
        (Err(error), false) => Some(format!("{name} {id}: refused with {error}")),
        (Err(error), true) => {
            let told = error.to_string();
            (told.is_empty() || told.lines().count() != 1).then(|| format!("{name} {id}: not one line: {told}"))
        }
    }
}

#[test]
fn every_case_of_every_reference_file_holds() {
    let mut faults = Vec::new();
    let mut ran = 0;
    for name in files() {
        let cases = cases(&name);
        let refused = cases.iter().filter(|case| expects_error(case)).count();
        println!("{name}: {} cases, {refused} of them to be refused", cases.len());
        ran += cases.len();
        if names().contains(&name.as_str()) {
            faults.extend(cases.iter().filter_map(|case| fault(&name, case)));
        } else {
            faults.push(format!("{name}: there is no reckoning of that name"));
        }
    }
    println!("{ran} cases");
    assert!(ran > 2_500, "{ran} cases");
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

/// A case with this answer and tolerance.
fn case(expected: Value, absolute: f64, relative: f64) -> Value {
    json!({ "expected": expected, "tolerance": { "abs": absolute, "rel": relative } })
}

#[test]
fn the_comparison_sees_each_kind_of_difference() {
    let expected = json!({"a": [1.0, null, {"b": "x", "c": true}], "n": 5_000_000_000_000_000_001_i64});
    let exact = case(expected.clone(), 0.0, 0.0);
    let mut more = expected.clone();
    more["a"][2]["extra"] = json!(7);
    assert_eq!(compare(&exact, &more), Ok(()));
    let different = [
        ("/a/0", json!(1.1), ".a[0]: expected 1.0, got 1.1"),
        ("/a/0", json!("1.0"), ".a[0]: expected"),
        ("/a/1", json!(0), ".a[1]: expected null"),
        ("/a/2/b", json!("y"), ".a[2].b: expected"),
        ("/a/2/c", json!(1), ".a[2].c: expected"),
        ("/a/2", json!({"c": true}), ".a[2].b: is missing"),
        ("/a", json!([1.0, null]), ".a: expected"),
        ("/n", json!(5_000_000_000_000_000_002_i64), ".n: expected"),
    ];
    for (place, value, says) in different {
        let mut got = expected.clone();
        *got.pointer_mut(place).unwrap() = value;
        let told = compare(&exact, &got).unwrap_err();
        assert!(told.starts_with(says), "{told}");
    }
}

#[test]
fn a_number_passes_within_either_tolerance() {
    let near = case(json!({"v": 200.0}), 0.5, 0.01);
    assert_eq!(compare(&near, &json!({"v": 202})), Ok(()));
    assert!(compare(&near, &json!({"v": 197.9})).is_err());
    let small = case(json!({"v": 1.0}), 0.5, 0.01);
    assert_eq!(compare(&small, &json!({"v": 0.6})), Ok(()));
    let bounds = case(json!({"v": {"lower_bound": 10.0, "best_found": 11.0}}), 0.0, 0.02);
    assert_eq!(compare(&bounds, &json!({"v": 11.2})), Ok(()));
    assert!(compare(&bounds, &json!({"v": 9.99})).is_err());
    assert!(compare(&bounds, &json!({"v": 11.3})).is_err());
}
