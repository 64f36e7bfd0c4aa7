//! The ground floor: pure reckoning. No async, no I/O, no SQL, no clock, no HTTP. Values in, values out,
//! every formula with its units and its source.

#[macro_use]
pub mod coded;
pub mod breeding;
pub mod calendar;
pub mod captive_code;
mod cells;
pub mod climate;
pub mod condition;
pub mod difference;
pub mod dispatch;
pub mod enclosure;
pub mod growth;
pub mod hazard;
pub mod holdback;
pub mod label_grid;
pub mod language;
pub mod ledger;
pub mod life_table;
pub mod lineage;
pub mod loss_alarm;
pub mod money;
pub mod moult;
pub mod outing;
mod outside;
pub mod pedigree;
pub mod planner;
pub mod prey;
pub mod prose;
pub mod provenance;
pub mod provenance_chain;
pub mod rates;
pub mod rota;
pub mod rows;
pub mod sale_readiness;
pub mod scorecard;
pub mod stage;
pub mod strain;
mod student;
pub mod survival;
pub mod tag;
pub mod together;
pub mod units;
pub mod who_may;
pub mod words;

pub use outside::Entry;

/// Why a reckoning could not be run; always one line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReckonError {
    /// No reckoning of that name.
    #[error("“{0}” is not a reckoning; there are: {list}", list = names().join(", "))]
    UnknownName(String),
    /// Something is wrong with the input as a whole.
    #[error("{0}")]
    Input(String),
    /// Something is wrong with one field.
    #[error("{field}: {problem}")]
    Field {
        /// Which field.
        field: String,
        /// What is wrong with it.
        problem: String,
    },
}

impl ReckonError {
    fn input(problem: impl ToString) -> Self {
        Self::Input(one_line(&problem.to_string()))
    }

    fn field(field: impl Into<String>, problem: impl ToString) -> Self {
        Self::Field { field: one_line(&field.into()), problem: one_line(&problem.to_string()) }
    }
}

/// The most letters of a problem that are shown; what was given may be quoted in it at any length.
const MOST_LETTERS: usize = 1000;

/// A text as one line of bearable length.
fn one_line(text: &str) -> String {
    let line: String = text.chars().take(MOST_LETTERS).map(|letter| if letter.is_control() { ' ' } else { letter }).collect();
    if text.chars().nth(MOST_LETTERS).is_some() { format!("{line}…") } else { line }
}

/// The usual names of the reckonings that can be run on data from outside.
pub fn names() -> Vec<&'static str> {
    outside::ENTRIES.iter().map(Entry::name).collect()
}

/// Every reckoning that can be run on data from outside.
pub fn entries() -> &'static [Entry] {
    outside::ENTRIES
}

/// The reckoning of a name.
///
/// # Errors
/// Unknown names, with those that are known.
pub fn entry(name: &str) -> Result<&'static Entry, ReckonError> {
    outside::ENTRIES.iter().find(|entry| entry.names.contains(&name)).ok_or_else(|| ReckonError::UnknownName(one_line(name)))
}

/// Runs a reckoning on the text of a JSON object and gives JSON back. [`Entry::explained`] tells the shapes.
///
/// # Errors
/// Unknown names, with those that are known; input that is not a JSON object; fields that are missing, of the wrong
/// kind, or refused by the reckoning; lists of more than a million rows.
pub fn reckon(name: &str, input: &str) -> Result<String, ReckonError> {
    (entry(name)?.run)(input)
}
