//! Reading the program's own sources.

use std::fs;
use std::path::{Path, PathBuf};

/// A source file: its path below the package, and its text.
pub struct Source {
    pub path: String,
    pub text: String,
}

/// All files with an ending below a folder of the package.
pub fn all(folder: &str, ending: &str) -> Vec<Source> {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    walk(&root.join(folder), &root, ending, &mut found);
    assert!(!found.is_empty(), "no {ending} below {folder}");
    found.sort_by(|one, other| one.path.cmp(&other.path));
    found
}

fn walk(folder: &Path, root: &Path, ending: &str, found: &mut Vec<Source>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            walk(&path, root, ending, found);
        } else if path.to_string_lossy().ends_with(ending) {
            let text = fs::read_to_string(&path).unwrap();
            found.push(Source { path: path.strip_prefix(root).unwrap().to_string_lossy().into_owned(), text });
        }
    }
}

/// The string literals of a Rust source, as the compiler reads them; comments are skipped.
pub fn literals(text: &str) -> Vec<String> {
    let letters: Vec<char> = text.chars().collect();
    let mut found = Vec::new();
    let mut at = 0;
    while at < letters.len() {
        let rest = &letters[at..];
        if rest.starts_with(&['/', '/']) {
            at += rest.iter().position(|letter| *letter == '\n').unwrap_or(rest.len());
        } else if rest[0] == '\'' && rest.len() > 2 && (rest[1] == '\\' || rest[2] == '\'') {
            at += 2 + rest[2..].iter().position(|letter| *letter == '\'').unwrap_or(0) + 1;
        } else if rest[0] == '"' {
            let (literal, length) = plain_literal(rest);
            found.push(literal);
            at += length;
        } else {
            at += 1;
        }
    }
    found
}

/// Reads a literal from its opening quote on; gives it and its length in the source.
fn plain_literal(rest: &[char]) -> (String, usize) {
    let mut literal = String::new();
    let mut at = 1;
    while at < rest.len() && rest[at] != '"' {
        if rest[at] != '\\' {
            literal.push(rest[at]);
            at += 1;
            continue;
        }
        match rest[at + 1] {
            'n' => literal.push('\n'),
            '\n' => {
                // A continued line: its leading white space does not count.
                at += 2;
                while rest[at].is_whitespace() {
                    at += 1;
                }
                continue;
            }
            other => literal.push(other),
        }
        at += 2;
    }
    (literal, at + 1)
}

#[test]
fn literals_are_read_as_the_compiler_reads_them() {
    let source = "let a = \"one \\\"two\\\" \\\n    three\"; // \"not\"\nlet b = '\"'; let c = '\\''; \"four\"";
    assert_eq!(literals(source), ["one \"two\" three", "four"]);
}
