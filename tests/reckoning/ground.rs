//! The rules of the ground floor that the compiler does not keep: what its files may name, and that each public item
//! says what it is.

use crate::house::sources::{Source, all};

fn sources() -> Vec<Source> {
    let sources = all("server/reckoning", ".rs");
    assert!(sources.len() > 30, "{} files", sources.len());
    sources
}

/// The lines of a source that are not comments, trimmed, with their numbers.
fn code(source: &Source) -> impl Iterator<Item = (usize, &str)> {
    let lines = source.text.lines().map(str::trim).enumerate();
    lines.filter(|(_, line)| !line.starts_with("//")).map(|(at, line)| (at + 1, line))
}

/// What a pure function has no use for: the house above it, frameworks, files, the network, clocks and chance.
const OUT_OF_REACH: [&str; 17] = [
    "crate::house",
    "axum",
    "sqlx",
    "tokio",
    "askama",
    "tower",
    "std::fs",
    "std::io",
    "std::net",
    "std::env",
    "Instant",
    "Utc::now",
    "Local::now",
    "SystemTime",
    "thread_rng",
    "rand::",
    "async fn",
];

#[test]
fn the_ground_floor_names_nothing_impure_and_nothing_above_it() {
    let packages = packages_out_of_reach();
    assert!(packages.len() > 15, "{packages:?}");
    for source in sources() {
        for (at, line) in code(&source) {
            for outside in OUT_OF_REACH {
                assert!(!line.contains(outside), "{}:{at} names {outside}", source.path);
            }
            for package in &packages {
                let named = line.contains(&format!("use {package}::")) || line.contains(&format!(" {package}::"));
                assert!(!named, "{}:{at} names {package}", source.path);
            }
        }
    }
}

/// Packages of plain values and plain formulas.
const IN_REACH: [&str; 7] = ["chrono", "chrono_tz", "serde", "serde_json", "serde_path_to_error", "statrs", "thiserror"];

fn packages_out_of_reach() -> Vec<String> {
    let manifest = include_str!("../../Cargo.toml");
    let listed = manifest.split("[dependencies]").nth(1).unwrap().split("\n[").next().unwrap();
    let names = listed.lines().filter_map(|line| line.split_once(" = ")).map(|(name, _)| name.replace('-', "_"));
    names.filter(|name| !IN_REACH.contains(&name.as_str())).collect()
}

#[test]
fn imports_of_ours_stay_on_the_ground_floor() {
    for source in sources() {
        for (at, line) in code(&source) {
            for (start, _) in line.match_indices("crate::") {
                let rest = &line[start..];
                // The macro that makes lists of words is kept at the root.
                let inside = rest.starts_with("crate::reckoning") || rest.starts_with("crate::coded_enum");
                assert!(inside, "{}:{at} reaches above the ground floor: {line}", source.path);
            }
        }
    }
}

#[test]
fn each_file_says_first_what_it_is_for() {
    for source in sources() {
        let says = source.text.strip_prefix("//! ").and_then(|rest| rest.lines().next()).unwrap_or_default();
        assert!(says.len() > 5, "{} begins without //!", source.path);
    }
}

/// Items whose meaning must be told, besides lists of words.
const ITEMS: [&str; 6] = ["pub fn ", "pub const fn ", "pub struct ", "pub enum ", "pub trait ", "pub const "];

/// Whether a comment stands before a line, with nothing but attributes in between.
fn is_documented(lines: &[&str], at: usize) -> bool {
    // A list of words brings its comment along.
    if lines[at].contains(" enum $") {
        return true;
    }
    let mut before = lines[..at].iter().rev().map(|line| line.trim()).peekable();
    while let Some(line) = before.next_if(|line| !line.starts_with("///")) {
        let attribute = line.starts_with("#[");
        // An attribute of several lines ends with a bracket of its own.
        if line.ends_with(")]") && !attribute {
            before.by_ref().find(|line| line.starts_with("#["));
        } else if !attribute {
            return false;
        }
    }
    before.peek().is_some_and(|line| line.len() > "/// a".len())
}

/// The lines of a source that open a public item without a comment.
fn undocumented(text: &str) -> Vec<String> {
    let lines: Vec<&str> = text.lines().collect();
    let opens = |line: &str| ITEMS.iter().any(|item| line.trim_start().starts_with(item));
    let mut found = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let list = line.starts_with("coded_enum! {");
        // The comment of a list of words stands inside the macro, on the next line.
        let told = if list { lines[at + 1].trim_start().starts_with("/// ") } else { !opens(line) || is_documented(&lines, at) };
        if !told {
            found.push(format!("{}: {line}", at + 1));
        }
    }
    found
}

#[test]
fn each_public_item_says_what_it_is() {
    let mut items = 0;
    for source in sources() {
        items += source.text.lines().filter(|line| line.trim_start().starts_with("pub fn ")).count();
        let undocumented = undocumented(&source.text);
        assert!(undocumented.is_empty(), "{}: {}", source.path, undocumented.join("; "));
    }
    assert!(items > 80, "{items} functions");
}

#[test]
fn a_missing_comment_is_seen() {
    let told = "/// Says so.\n#[derive(\n    Debug,\n)]\n#[must_use]\npub struct A;\n\n    /// Here too.\n    pub fn b() {}\n";
    assert!(undocumented(told).is_empty(), "{:?}", undocumented(told));
    for untold in ["pub fn b() {}", "/// Says so.\nstruct A;\npub enum B {}", "// No.\npub struct A;", "coded_enum! {\n    A, \"a\" {"] {
        assert_eq!(undocumented(untold).len(), 1, "{untold}");
    }
}
