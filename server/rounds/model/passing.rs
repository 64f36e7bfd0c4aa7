//! What became of somebody's duties when they turned out not to be in.

use std::collections::BTreeMap;

use crate::house::ids::{DutyId, MemberId};

/// One of somebody's duties that went to another, or to nobody.
#[derive(Debug, Clone)]
pub struct Passing {
    /// The duty.
    pub duty: DutyId,
    /// As messages name it: `Feed T-5`.
    pub label: String,
    /// Where it is to be done.
    pub place: Option<String>,
    /// How many minutes it takes.
    pub minutes: u32,
    /// Who takes their part.
    pub to: Option<MemberId>,
    /// Their name.
    pub name: Option<String>,
    /// Why nobody does; empty when somebody does.
    pub why: String,
}

/// What became of somebody's duties when they turned out not to be in.
#[derive(Debug, Clone, Default)]
pub struct PassedOn {
    /// Each of them.
    pub list: Vec<Passing>,
}

impl PassedOn {
    /// Those that somebody took, by who took them.
    #[must_use]
    pub fn taken(&self) -> Vec<(&str, Vec<&Passing>)> {
        let mut taken: BTreeMap<&str, Vec<&Passing>> = BTreeMap::new();
        for passing in &self.list {
            if let Some(name) = &passing.name {
                taken.entry(name).or_default().push(passing);
            }
        }
        taken.into_iter().collect()
    }

    /// Those that nobody has.
    #[must_use]
    pub fn left(&self) -> Vec<&Passing> {
        self.list.iter().filter(|passing| passing.to.is_none()).collect()
    }

    /// In words: `5 duties passed on: Bo 3, Cy 2. 1 has nobody.`
    #[must_use]
    pub fn words(&self) -> String {
        if self.list.is_empty() {
            return "They had no duties to pass on.".to_owned();
        }
        let taken = self.taken();
        let by: Vec<String> = taken.iter().map(|(name, list)| format!("{name} {}", list.len())).collect();
        let count: usize = taken.iter().map(|(_, list)| list.len()).sum();
        let passed = match count {
            0 => "None of their duties could be passed on.".to_owned(),
            1 => format!("1 duty passed on: {}.", by.join(", ")),
            more => format!("{more} duties passed on: {}.", by.join(", ")),
        };
        match self.left().len() {
            0 => passed,
            1 => format!("{passed} 1 has nobody."),
            left => format!("{passed} {left} have nobody."),
        }
    }
}
