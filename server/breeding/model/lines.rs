//! Lines: the house's own names for closed groups of one species.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::house::ids::{SpeciesId, StrainId};
use crate::reckoning::strain::Strains;

/// A line.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct LineRow {
    /// Its id.
    pub id: StrainId,
    /// Its species.
    pub species_id: SpeciesId,
    /// The accepted name of its species.
    pub species: String,
    /// Its name.
    pub name: String,
    /// What else there is to know.
    pub note: String,
    /// The day it was founded.
    pub founded_on: NaiveDate,
    /// Counts the changes, so that a stale page is noticed.
    pub version: i64,
}

/// A checked line.
#[derive(Debug, Clone)]
pub struct NewLine {
    /// Its species.
    pub species: SpeciesId,
    /// Its name.
    pub name: String,
    /// What else there is to know; may be empty.
    pub note: String,
    /// The day it was founded.
    pub founded_on: NaiveDate,
}

/// Something that was said of the line of an animal or a cohort.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct LineEntry {
    /// The local day.
    pub day: NaiveDate,
    /// Of which line; nothing for none.
    pub line_id: Option<StrainId>,
    /// The name of the line.
    pub name: Option<String>,
    /// A note.
    pub note: String,
    /// Who said so.
    pub by_name: Option<String>,
}

/// Of which line an animal or a cohort is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfLine {
    /// The lines.
    pub strains: Strains,
    /// What they are called.
    pub names: BTreeMap<i64, String>,
    /// Whether somebody said so of this very one; else it follows from its parents.
    pub said: bool,
}

impl OfLine {
    /// In words, such as “Colima”, “mixed of Colima and Jalisco”, “no line”.
    #[must_use]
    pub fn told(&self) -> String {
        self.strains.told(|line| self.names.get(&line).cloned().unwrap_or_else(|| format!("line {line}")))
    }

    /// The one line that all of it is of, if there is one.
    #[must_use]
    pub fn pure(&self) -> Option<StrainId> {
        self.strains.pure().map(StrainId)
    }

    /// What that rests on.
    #[must_use]
    pub fn basis(&self) -> &'static str {
        match (self.said, self.strains.lines.is_empty()) {
            (true, _) => "entered",
            (false, true) => "nobody said otherwise",
            (false, false) => "from its parents",
        }
    }
}
