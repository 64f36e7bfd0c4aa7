//! What an import did, or would do, line by line.

use std::fmt;

use chrono::{DateTime, Utc};

use super::Kind;
use crate::house::forms::Mistakes;

/// What happens to one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// It goes into the book; with remarks on how it was read.
    Added(Vec<String>),
    /// The book says the same already.
    Unchanged,
    /// It can't go in: what to change, by column.
    Refused(Mistakes),
}

/// One line of the report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineReport {
    /// The line in the file, counted from 1.
    pub line: u64,
    /// Its tag or code.
    pub label: String,
    /// What happens to it.
    pub outcome: Outcome,
}

impl LineReport {
    /// What happens, in a word.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self.outcome {
            Outcome::Added(_) => "added",
            Outcome::Unchanged => "unchanged",
            Outcome::Refused(_) => "error",
        }
    }

    /// The remarks, or what to change.
    #[must_use]
    pub fn details(&self) -> Vec<String> {
        match &self.outcome {
            Outcome::Added(remarks) => remarks.clone(),
            Outcome::Unchanged => Vec::new(),
            Outcome::Refused(mistakes) => mistakes
                .all()
                .map(|mistake| match mistake.field {
                    "" => mistake.message.clone(),
                    column => format!("{column}: {}", mistake.message),
                })
                .collect(),
        }
    }
}

/// What an import did, or would do.
#[derive(Debug, Clone)]
pub struct Report {
    /// What the file holds.
    pub kind: Kind,
    /// The file's fingerprint.
    pub file_sha256: String,
    /// When this very file was imported before.
    pub imported_before: Option<DateTime<Utc>>,
    /// What is wrong with the file as a whole; its lines were not read then.
    pub problems: Vec<String>,
    /// What was left out of account.
    pub warnings: Vec<String>,
    /// Every line, in the order of the file.
    pub lines: Vec<LineReport>,
    /// Whether it was written into the book; `false` for a dry run too.
    pub imported: bool,
}

impl Report {
    pub(super) fn new(kind: Kind, file_sha256: String) -> Self {
        Self { kind, file_sha256, imported_before: None, problems: Vec::new(), warnings: Vec::new(), lines: Vec::new(), imported: false }
    }

    /// How many lines are new.
    #[must_use]
    pub fn added(&self) -> usize {
        self.lines.iter().filter(|line| matches!(line.outcome, Outcome::Added(_))).count()
    }

    /// How many lines are in the book already.
    #[must_use]
    pub fn unchanged(&self) -> usize {
        self.lines.iter().filter(|line| line.outcome == Outcome::Unchanged).count()
    }

    /// How many lines have an error.
    #[must_use]
    pub fn errors(&self) -> usize {
        self.lines.len() - self.added() - self.unchanged()
    }

    /// Whether nothing is wrong with the file.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.problems.is_empty() && self.errors() == 0
    }

    /// Whether nothing is wrong and something is new.
    #[must_use]
    pub fn can_import(&self) -> bool {
        self.is_sound() && self.added() > 0
    }

    /// The counts in a sentence.
    #[must_use]
    pub fn summary(&self) -> String {
        format!("{} to add, {} unchanged, {} with an error", self.added(), self.unchanged(), self.errors())
    }

    pub(super) fn refuse(&mut self, line: u64, mistakes: Mistakes) {
        if let Some(entry) = self.lines.iter_mut().find(|entry| entry.line == line) {
            entry.outcome = Outcome::Refused(mistakes);
        }
    }
}

/// The whole report as the command line prints it.
impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "File SHA-256 {}", self.file_sha256)?;
        if let Some(at) = self.imported_before {
            writeln!(f, "This very file was imported before, on {}.", at.format("%Y-%m-%d"))?;
        }
        for sentence in self.problems.iter().chain(&self.warnings) {
            writeln!(f, "{sentence}")?;
        }
        for line in &self.lines {
            writeln!(f, "line {}: {} {}{}", line.line, line.label, line.word(), details(line))?;
        }
        let done = if self.imported { "Imported" } else { "Nothing was written" };
        writeln!(f, "{done}: {}.", self.summary())
    }
}

fn details(line: &LineReport) -> String {
    let details = line.details().join(" ");
    if details.is_empty() { details } else { format!(": {details}") }
}
