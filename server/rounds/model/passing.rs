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

/// The rack of a place: what stands before its shelf.
fn rack(place: Option<&str>) -> &str {
    let place = place.unwrap_or("No place noted");
    place.rsplit_once(" · shelf ").map_or(place, |(rack, _)| rack)
}

/// What one person took over in one rack.
#[derive(Debug, Clone)]
pub struct InRack<'a> {
    /// The rack, with its room.
    pub place: &'a str,
    /// Minutes of all.
    pub minutes: u32,
    /// Each as messages name it.
    pub labels: Vec<&'a str>,
}

impl PassedOn {
    /// What one person took over, rack by rack.
    #[must_use]
    pub fn by_rack<'a>(&self, list: &[&'a Passing]) -> Vec<InRack<'a>> {
        let mut racks: BTreeMap<&str, Vec<&Passing>> = BTreeMap::new();
        for passing in list {
            racks.entry(rack(passing.place.as_deref())).or_default().push(passing);
        }
        let in_rack = |(place, list): (&'a str, Vec<&'a Passing>)| InRack {
            place,
            minutes: list.iter().map(|passing| passing.minutes).fold(0, u32::saturating_add),
            labels: list.iter().map(|passing| passing.label.as_str()).collect(),
        };
        racks.into_iter().map(in_rack).collect()
    }

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

    /// Those whose part nobody could take.
    #[must_use]
    pub fn left(&self) -> Vec<&Passing> {
        self.list.iter().filter(|passing| passing.to.is_none()).collect()
    }

    /// In words: `5 duties passed on: Bo 3, Cy 2. Nobody could take 1.`
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
            left => format!("{passed} Nobody could take {left}."),
        }
    }
}
