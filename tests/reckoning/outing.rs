use std::io::Write as _;
use std::process::{Command, Stdio};

use serde_json::{Value, json};
use silkward::reckoning::outing::{Line, reconcile};
use silkward::reckoning::reckon;

fn line(out: u32, [sold, returned, dead]: [u32; 3], missing: Option<u32>) -> Line {
    Line { label: "lot".to_owned(), out, sold, returned, dead, missing }
}

// The expo of the trade's worked example: out 120 = sold 74 + returned 44 + dead 1 + missing 1.
#[test]
fn a_hundred_and_twenty_go_out_and_are_accounted_for() {
    let counted = reconcile(&[line(120, [74, 44, 1], Some(1))]);
    assert!(counted.reconciled);
    assert_eq!(counted.total.text, "out 120 = sold 74 + returned 44 + dead 1 + missing 1");
    let reckoned = reconcile(&[line(120, [74, 44, 1], None)]);
    assert_eq!((reckoned.total.missing, reckoned.total.difference), (1, 0));
}

#[test]
fn each_line_tells_its_difference() {
    let short = reconcile(&[line(120, [74, 44, 1], Some(0))]);
    assert!(!short.reconciled);
    assert_eq!(short.lines[0].text, "out 120, but sold 74 + returned 44 + dead 1 + missing 0 = 119: 1 not accounted for");
    let over = reconcile(&[line(10, [10, 0, 0], Some(2))]);
    assert_eq!(over.lines[0].difference, -2);
    assert!(over.lines[0].text.ends_with("2 more than went out"));
}

#[test]
fn differences_of_two_lines_do_not_cancel_out() {
    let mixed = reconcile(&[line(10, [5, 4, 0], Some(0)), line(10, [5, 6, 0], Some(0))]);
    assert_eq!(mixed.total.difference, 0);
    assert!(!mixed.reconciled);
    assert!(reconcile(&[]).reconciled);
}

#[test]
fn more_than_went_out_is_not_made_up_by_missing_ones() {
    let over = reconcile(&[line(3, [4, 0, 0], None)]);
    assert_eq!((over.total.missing, over.total.difference), (0, -1));
    let most = reconcile(&[line(u32::MAX, [u32::MAX, u32::MAX, u32::MAX], Some(u32::MAX)), line(1, [1, 0, 0], None)]);
    assert!(!most.reconciled && most.total.difference < 0);
}

#[test]
fn the_command_line_reconciles_too() {
    let mut running = Command::new(env!("CARGO_BIN_EXE_silkward"))
        .args(["reckon", "outing"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let input = json!({"lines": [{"out": 120, "sold": 74, "returned": 44, "dead": 1}]}).to_string();
    running.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    let output = running.wait_with_output().unwrap();
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((&answer["reconciled"], &answer["total"]["missing"]), (&json!(true), &json!(1)));
    let refused = reckon("outing", r#"{"lines": [{"out": 1, "sold": 1, "returned": 0, "dead": -1}]}"#).unwrap_err();
    assert!(refused.to_string().starts_with("lines[0].dead"), "{refused}");
}
