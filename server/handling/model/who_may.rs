//! One person against every band and exposure, as the table of who may do what shows them.

use super::{PersonCleared, TableRow};
use crate::reckoning::who_may::{Missing, Part, Standing, level_for, missing};
use crate::staff::model::Roles;

/// A person with their roles and what they are cleared for.
#[derive(Debug, Clone)]
pub struct Who {
    /// Who, and their clearance.
    pub person: PersonCleared,
    /// Their roles.
    pub roles: Roles,
}

impl Who {
    /// As the rule of who may takes it.
    #[must_use]
    pub fn standing(&self) -> Standing {
        Standing {
            looks_after: self.roles.looks_after(),
            suspended: self.person.suspended_for.is_some(),
            level: u8::try_from(self.person.level).unwrap_or(0),
        }
    }
}

/// One column of the table: a band, an exposure, and which of the people.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// What is asked.
    pub row: TableRow,
    /// First or second.
    pub part: Part,
}

impl Column {
    /// The columns that a house's risk table makes: a second one where it takes two people.
    #[must_use]
    pub fn all(rows: &[TableRow]) -> Vec<Self> {
        let of = |row: &TableRow| Part::ALL.iter().map(|part| Self { row: *row, part: *part }).collect::<Vec<_>>();
        rows.iter().flat_map(of).filter(|column| column.needs().is_some()).collect()
    }

    /// The level that it takes.
    #[must_use]
    pub fn needs(&self) -> Option<u8> {
        level_for(self.row.asked, self.part)
    }

    /// What stands at its head: `hands in, second`.
    #[must_use]
    pub fn head(&self) -> String {
        if self.row.asked.persons >= 2 { format!("{}, {}", self.row.exposure, self.part) } else { self.row.exposure.to_string() }
    }

    /// As addresses and tests name it: `3-hands-in-second`.
    #[must_use]
    pub fn code(&self) -> String {
        format!("{}-{}-{}", self.row.band.level(), self.row.exposure.code(), self.part.code())
    }

    /// What somebody lacks for it; none when they may.
    #[must_use]
    pub fn missing(&self, who: &Who) -> Option<Missing> {
        missing(self.row.asked, self.part, who.standing())
    }

    /// The same in a few words, for a cell.
    #[must_use]
    pub fn lacks(&self, who: &Who) -> Option<String> {
        Some(match self.missing(who)? {
            Missing::Role => "not a keeper".to_owned(),
            Missing::Suspended => "rests until a review".to_owned(),
            Missing::Level { needs, .. } => format!("needs clearance {needs}"),
        })
    }
}
