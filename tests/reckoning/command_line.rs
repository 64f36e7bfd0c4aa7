//! The reckonings as they are run from a shell: JSON on standard input, JSON on standard output; exit status 2 and one
//! line on standard error for what can't be answered.

use std::io::Write as _;
use std::process::{Child, Command, Output, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use serde_json::Value;
use silkward::reckoning::{entries, names};

use super::oracles::{cases, compare, expects_error, files};

fn start(arguments: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_silkward"))
        .arg("reckon")
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

fn run(arguments: &[&str], input: &str) -> Output {
    let mut running = start(arguments);
    // It may refuse the input before it has read all of it.
    running.stdin.take().unwrap().write_all(input.as_bytes()).ok();
    running.wait_with_output().unwrap()
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).unwrap()
}

/// The line with which a call was refused.
fn refusal(output: &Output) -> Result<&str, String> {
    let told = text(&output.stderr);
    let right = output.status.code() == Some(2) && output.stdout.is_empty() && told.ends_with('\n') && told.lines().count() == 1;
    if right { Ok(told.trim_end()) } else { Err(format!("not refused in one line: {output:?}")) }
}

fn check(name: &str, case: &Value) -> Result<(), String> {
    let output = run(&[name], &case["input"].to_string());
    if expects_error(case) {
        return refusal(&output).map(|_| ());
    }
    if !output.status.success() || !output.stderr.is_empty() {
        return Err(format!("{output:?}"));
    }
    let answer = serde_json::from_slice(&output.stdout).map_err(|error| error.to_string())?;
    compare(case, &answer)
}

/// All cases of a short file; of a long one every so manieth, and all that are to be refused.
fn sample(name: &str) -> Vec<Value> {
    const LONG: usize = 250;
    const SAMPLE: usize = 120;
    let cases = cases(name);
    let every = if cases.len() > LONG { cases.len() / SAMPLE } else { 1 };
    let chosen = cases.into_iter().enumerate().filter(|(at, case)| at % every == 0 || expects_error(case));
    chosen.map(|(_, case)| case).collect()
}

#[test]
fn every_reference_file_holds_from_the_command_line() {
    let files = files();
    let faults: Vec<String> = thread::scope(|scope| {
        let running: Vec<_> = files
            .iter()
            .map(|name| {
                scope.spawn(move || {
                    let sample = sample(name);
                    println!(
                        "{name}: {} cases, {} of them to be refused",
                        sample.len(),
                        sample.iter().filter(|case| expects_error(case)).count()
                    );
                    let wrong = |case: &Value| check(name, case).err().map(|fault| format!("{name} {}{fault}", case["id"]));
                    sample.iter().filter_map(wrong).collect::<Vec<_>>()
                })
            })
            .collect();
        running.into_iter().flat_map(|one| one.join().unwrap()).collect()
    });
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn the_list_names_every_reckoning_once_with_a_line_each() {
    let output = run(&["--list"], "");
    assert!(output.status.success());
    let listed: Vec<&str> = text(&output.stdout).lines().map(|line| line.split_whitespace().next().unwrap()).collect();
    assert_eq!(listed, names());
    for (line, entry) in text(&output.stdout).lines().zip(entries()) {
        assert!(line.ends_with(entry.about) && !entry.about.contains('\n') && entry.about.len() > 20, "{line}");
    }
}

#[test]
fn every_reckoning_explains_itself() {
    for entry in entries() {
        for name in entry.names {
            let output = run(&[name, "--explain"], "");
            assert!(output.status.success(), "{name}");
            let mut rest = text(&output.stdout);
            for (title, part) in [("Input", entry.input), ("Output", entry.output), ("Formula", entry.formula), ("Source", entry.source)] {
                let heading = format!("\n{title}\n{part}\n");
                assert!(!part.is_empty() && rest.contains(&heading), "{name}: {title}");
                rest = rest.split_once(&heading).unwrap().1;
            }
        }
    }
}

#[test]
fn what_can_not_be_answered_is_refused_in_one_line() {
    let nested = format!("{{\"lines\": {}", "[".repeat(100_000));
    let faults = [
        ("horoscope", "{}", "horoscope"),
        ("two\nlines", "{}", "two lines"),
        ("money", "", "not a JSON object"),
        ("money", "[1]", "not a JSON object"),
        ("money", r#"{"lines": [], "lines": []}"#, "lines"),
        ("money", r#"{"lines": [{"quantity": 1, "unit_minor": 5}], "tax_percent": "20", "prices_include_tax": false"#, "not JSON here"),
        ("money", r#"{"lines": [], "tax_percent": "twenty\nthree", "prices_include_tax": false}"#, "tax_percent: “twenty"),
        ("money", &nested, "lines"),
        ("prey", r#"{"events": [{"probability": 1e999, "prey": 1}]}"#, "events[0].probability"),
        ("prey", r#"{"events": [{"probability": NaN, "prey": 1}]}"#, "events[0].probability"),
    ];
    for (name, input, says) in faults {
        let output = run(&[name], input);
        let told = refusal(&output).unwrap();
        assert!(told.contains(says), "{told}");
    }
}

/// Ten million rows are written while the program reads; it refuses them by name, and soon.
fn refuses_ten_million(name: &str, list: &str, row: &str) {
    let mut running = start(&[name]);
    let mut input = running.stdin.take().unwrap();
    let (head, chunk) = (format!("{{\"{list}\":[{row}"), format!(",{row}").repeat(10_000));
    let started = Instant::now();
    let writing = thread::spawn(move || {
        // A closed pipe ends the writing: the program has read enough.
        let sent = input.write_all(head.as_bytes()).and_then(|()| (0..1_000).try_for_each(|_| input.write_all(chunk.as_bytes())));
        sent.and_then(|()| input.write_all(b"]}")).ok();
    });
    while running.try_wait().unwrap().is_none() {
        if started.elapsed() > Duration::from_secs(90) {
            running.kill().unwrap();
            panic!("{name} still reads after 90 seconds");
        }
        thread::sleep(Duration::from_millis(20));
    }
    writing.join().unwrap();
    let output = running.wait_with_output().unwrap();
    let told = refusal(&output).unwrap();
    assert!(told.contains(&format!("{list}: has more than 1000000 rows")), "{told}");
    println!("{name}: ten million rows refused after {:.1} s", started.elapsed().as_secs_f64());
}

#[test]
fn ten_million_rows_are_refused_and_not_kept() {
    refuses_ten_million("kaplan_meier", "observations", r#"{"day":3,"count":1,"event":"lost"}"#);
    refuses_ten_million("prey_forecast", "events", r#"{"probability":0.5,"prey":2}"#);
}
