//! The ends of tagged animals, by the line that tagged them.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::{CohortError, TaggedEnd};
use crate::reckoning::ledger::{Line, LineKind};
use crate::reckoning::words::LossCause;

/// How the following of a tagged animal ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OwnEnd {
    Died(NaiveDate),
    Escaped(NaiveDate),
    Left(NaiveDate),
    /// Alive in the house today.
    Alive,
}

/// The ends that are known, by the number of the line.
#[derive(Debug, Default)]
pub(super) struct OwnEnds(BTreeMap<i64, Vec<OwnEnd>>);

impl OwnEnds {
    /// Sorts the ends by line, and holds them against the lines that stand. An end after today has not come yet.
    pub(super) fn of(lines: &[&Line], tagged: &[TaggedEnd], today: NaiveDate) -> Result<Self, CohortError> {
        let tagging = lines.iter().filter(|line| line.kind == LineKind::Tagged);
        let tagging: BTreeMap<i64, &Line> = tagging.map(|line| (line.id, *line)).collect();
        let mut ends: BTreeMap<i64, Vec<OwnEnd>> = BTreeMap::new();
        for animal in tagged {
            let line = tagging.get(&animal.line).ok_or(CohortError::NotATagging(animal.line))?;
            ends.entry(animal.line).or_default().push(own_end(animal, line.day, today)?);
        }
        for (line, told) in tagging.values().filter_map(|line| ends.get(&line.id).map(|told| (line, told))) {
            if u32::try_from(told.len()).map_or(true, |given| given > line.quantity) {
                return Err(CohortError::TooManyTagged { line: line.id, quantity: line.quantity, given: told.len() });
            }
        }
        Ok(Self(ends))
    }

    /// The known ends of the animals that a line tagged; no more than it tagged.
    pub(super) fn of_line(&self, line: i64) -> &[OwnEnd] {
        self.0.get(&line).map_or(&[], Vec::as_slice)
    }
}

fn own_end(animal: &TaggedEnd, tagged_on: NaiveDate, today: NaiveDate) -> Result<OwnEnd, CohortError> {
    let (day, end) = match (animal.died_on, animal.left_on) {
        (Some(_), Some(_)) => return Err(CohortError::TwoEnds(animal.line)),
        (Some((day, LossCause::Escape)), None) => (day, OwnEnd::Escaped(day)),
        (Some((day, _)), None) => (day, OwnEnd::Died(day)),
        (None, Some(day)) => (day, OwnEnd::Left(day)),
        (None, None) => return Ok(OwnEnd::Alive),
    };
    if day < tagged_on {
        return Err(CohortError::EndBeforeTagging { line: animal.line, day });
    }
    Ok(if day > today { OwnEnd::Alive } else { end })
}
