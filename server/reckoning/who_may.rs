//! Who may take part in a duty: the one rule that pages, stores and the database's triggers all keep.
//!
//! Common practice, no source: the first person holds the clearance that the duty asks for, the second at most one level
//! less, and they are two. Whoever takes part looks after animals in this house. While somebody's clearances rest after an
//! incident, they take part in nothing that asks for one.

use super::hazard::Requirement;

coded_enum! {
    /// Which of the people of a duty somebody is.
    Part, "part" {
        First = "first", "first";
        Second = "second", "second";
    }
}

/// What somebody brings to a duty on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// Whether they work here and look after animals: keeper, lead or owner.
    pub looks_after: bool,
    /// Whether their clearances rest until an incident is reviewed.
    pub suspended: bool,
    /// The highest level that counts on the day, 0 to 3; 0 while they are suspended.
    pub level: u8,
}

/// What somebody lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Missing {
    /// They do not look after animals here, or have left.
    Role,
    /// Their clearances rest.
    Suspended,
    /// Their clearance does not reach.
    Level {
        /// What it takes.
        needs: u8,
        /// What they hold.
        holds: u8,
    },
}

/// What is wrong with the people of a duty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TeamFault {
    /// The first lacks something.
    First(Missing),
    /// The second lacks something.
    Second(Missing),
    /// It takes a second person.
    NoSecond,
    /// The second is the first.
    SamePerson,
}

/// The level that a part asks for; nothing when a duty has no such part.
pub fn level_for(asked: Requirement, part: Part) -> Option<u8> {
    match part {
        Part::First => Some(asked.clearance),
        Part::Second if asked.persons >= 2 => Some(asked.clearance.saturating_sub(1)),
        Part::Second => None,
    }
}

/// What somebody lacks for a part of a duty; nothing when they may. A part that the duty does not have asks for nothing.
pub fn missing(asked: Requirement, part: Part, person: Standing) -> Option<Missing> {
    let needs = level_for(asked, part)?;
    if !person.looks_after {
        return Some(Missing::Role);
    }
    if person.suspended && asked.clearance > 0 {
        return Some(Missing::Suspended);
    }
    (person.level < needs).then_some(Missing::Level { needs, holds: person.level })
}

/// What is wrong with the people who are to do a duty, the first and the second, told apart by their numbers.
pub fn team_faults(asked: Requirement, first: (i64, Standing), second: Option<(i64, Standing)>) -> Vec<TeamFault> {
    let mut faults: Vec<TeamFault> = missing(asked, Part::First, first.1).map(TeamFault::First).into_iter().collect();
    if asked.persons < 2 {
        return faults;
    }
    match second {
        None => faults.push(TeamFault::NoSecond),
        Some((id, _)) if id == first.0 => faults.push(TeamFault::SamePerson),
        Some((_, person)) => faults.extend(missing(asked, Part::Second, person).map(TeamFault::Second)),
    }
    faults
}

/// What somebody has done towards a clearance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Practice {
    /// Supervised rehouses of that band or above that they passed within [`PRACTICE_DAYS`].
    pub passed: u32,
    /// How many the house asks for.
    pub needed: u32,
    /// Whether they have confirmed that they read the current text on safe work.
    pub has_read: bool,
}

/// How many days back supervised rehouses count: two years, as long as a clearance may last (common practice, no source).
pub const PRACTICE_DAYS: u32 = 730;

/// What is still missing before a clearance of a level can be granted, one sentence part each; nothing when it can.
pub fn still_missing(level: u8, practice: &Practice) -> Vec<String> {
    let mut missing = Vec::new();
    let more = practice.needed.saturating_sub(practice.passed);
    if more > 0 {
        let rehouses = if more == 1 { "supervised rehouse" } else { "supervised rehouses" };
        let above = if level < 3 { " or above" } else { "" };
        missing.push(format!(
            "{more} more {rehouses} of band {level}{above} ({} of {} passed in two years)",
            practice.passed, practice.needed
        ));
    }
    if !practice.has_read {
        missing.push("reading the current text on safe work".to_owned());
    }
    missing
}
