//! Entries and ends put in the order of days, with the number at risk on each.

use super::{End, Followed, SurvivalError};

/// A day on which anybody came in or ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Day {
    /// Days since day 0.
    pub day: u32,
    /// How many were at risk on it: those in so far, this day's included, less those gone before it.
    pub at_risk: u32,
    /// How many of them were lost on it.
    pub lost: u32,
    /// How many of them left on it, after the losses.
    pub left: u32,
}

/// The days of a group, earliest first.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Timeline(Vec<Day>);

/// One row of the input, as what it adds to its day.
struct Change {
    day: u32,
    entered: u64,
    lost: u64,
    left: u64,
}

impl Timeline {
    /// Sorts and adds up a group: O(n log n).
    pub(super) fn of(followed: &Followed) -> Result<Self, SurvivalError> {
        let mut changes = changes_of(followed)?;
        changes.sort_unstable_by_key(|change| change.day);
        let mut days: Vec<Day> = Vec::new();
        let mut standing = 0_u64;
        for same_day in changes.chunk_by(|one, other| one.day == other.day) {
            let day = same_day.first().map_or(0, |change| change.day);
            let sum = |part: fn(&Change) -> u64| same_day.iter().map(part).sum::<u64>();
            let (at_risk, lost, left) = (standing + sum(|change| change.entered), sum(|change| change.lost), sum(|change| change.left));
            standing = at_risk.checked_sub(lost + left).ok_or(SurvivalError::GoneBeforeEntry { day })?;
            days.push(Day { day, at_risk: whole(at_risk)?, lost: whole(lost)?, left: whole(left)? });
        }
        Ok(Self(days))
    }

    /// The days on which anybody came in or ended.
    pub(super) fn days(&self) -> &[Day] {
        &self.0
    }

    /// How many were at risk on any day.
    pub(super) fn at_risk_on(&self, day: u32) -> u32 {
        let so_far = self.0.partition_point(|at| at.day <= day);
        match so_far.checked_sub(1).and_then(|last| self.0.get(last)) {
            None => 0,
            Some(last) if last.day == day => last.at_risk,
            Some(last) => last.standing(),
        }
    }
}

impl Day {
    /// How many are still followed at the end of the day.
    pub(super) fn standing(self) -> u32 {
        // Never below zero: `Timeline::of` refuses such a day.
        self.at_risk.saturating_sub(self.lost).saturating_sub(self.left)
    }
}

/// Every row as a change, with a group that has no entries as one that came in on day 0.
fn changes_of(followed: &Followed) -> Result<Vec<Change>, SurvivalError> {
    if followed.ends.is_empty() && followed.entries.is_empty() {
        return Err(SurvivalError::Nothing);
    }
    if let Some(row) = followed.ends.iter().position(|end| end.count == 0) {
        return Err(SurvivalError::NoCount { row });
    }
    if let Some(row) = followed.entries.iter().position(|entry| entry.count == 0) {
        return Err(SurvivalError::NoEntryCount { row });
    }
    let ended: u64 = followed.ends.iter().map(|end| u64::from(end.count)).sum();
    whole(ended)?;
    let mut changes = Vec::with_capacity(followed.ends.len() + followed.entries.len().max(1));
    if followed.entries.is_empty() {
        changes.push(Change { day: 0, entered: ended, lost: 0, left: 0 });
    } else {
        let entered: u64 = followed.entries.iter().map(|entry| u64::from(entry.count)).sum();
        if entered != ended {
            return Err(SurvivalError::Unbalanced { entered, ended });
        }
        changes.extend(followed.entries.iter().map(|entry| Change { day: entry.day, entered: entry.count.into(), lost: 0, left: 0 }));
    }
    changes.extend(followed.ends.iter().map(|end| {
        let count = u64::from(end.count);
        let (lost, left) = if end.event == End::Lost { (count, 0) } else { (0, count) };
        Change { day: end.day, entered: 0, lost, left }
    }));
    Ok(changes)
}

fn whole(count: u64) -> Result<u32, SurvivalError> {
    u32::try_from(count).map_err(|_| SurvivalError::TooMany)
}
