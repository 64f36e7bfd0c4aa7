//! The moults of one animal, or of a cohort as a group, as the book came to know them.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::reckoning::words::LifeStage;

/// One moult.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Moult {
    /// The day of the moult.
    pub on: NaiveDate,
    /// The day on which it was written down.
    pub recorded_on: NaiveDate,
    /// The life stage after it.
    pub stage: LifeStage,
}

impl Moult {
    /// The first day on which the book knew of it. A moult that was written down ahead counts from its day.
    #[must_use]
    pub fn known_on(&self) -> NaiveDate {
        self.recorded_on.max(self.on)
    }
}

/// From one moult to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Interval {
    /// The day of the moult that began it.
    pub started_on: NaiveDate,
    /// The day of the moult that ended it.
    pub ended_on: NaiveDate,
    /// The life stage between the two.
    pub stage: LifeStage,
    /// The first day on which the book knew both moults.
    pub known_from: NaiveDate,
    /// The day on which a moult between the two was written down, so that the interval was none.
    pub known_until: Option<NaiveDate>,
}

impl Interval {
    /// Its length, at least one day.
    #[must_use]
    pub fn days(&self) -> f64 {
        (self.ended_on - self.started_on).num_days().max(1) as f64
    }
}

/// The moults of one animal, or of a cohort as a group.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct History {
    moults: Vec<Moult>,
    left_on: Option<NaiveDate>,
}

impl History {
    /// Moults in any order, and the day on which the animal died or left the house. Of two moults on one day, the one
    /// that was written down first is kept.
    #[must_use]
    pub fn new(mut moults: Vec<Moult>, left_on: Option<NaiveDate>) -> Self {
        moults.sort_by_key(|moult| (moult.on, moult.known_on()));
        moults.dedup_by_key(|moult| moult.on);
        Self { moults, left_on }
    }

    /// The moults in order of their days, one a day.
    #[must_use]
    pub fn moults(&self) -> &[Moult] {
        &self.moults
    }

    /// The day on which the animal died or left the house.
    #[must_use]
    pub fn left_on(&self) -> Option<NaiveDate> {
        self.left_on
    }

    /// The last moult that was known on a day.
    #[must_use]
    pub fn last_known(&self, day: NaiveDate) -> Option<&Moult> {
        self.moults.iter().rev().find(|moult| moult.known_on() <= day)
    }

    /// Every interval that the book has shown on any day, with the days on which it did. A moult written down late
    /// parts an interval in two, and until then the book showed the whole.
    #[must_use]
    pub fn intervals(&self) -> Vec<Interval> {
        let mut as_told: Vec<&Moult> = self.moults.iter().collect();
        as_told.sort_by_key(|moult| (moult.known_on(), moult.on));
        let mut shown: Vec<Interval> = Vec::with_capacity(as_told.len());
        // For each moult known so far: its stage, and the place in `shown` of the interval that it begins.
        let mut known: BTreeMap<NaiveDate, (LifeStage, Option<usize>)> = BTreeMap::new();
        for moult in as_told {
            let known_from = moult.known_on();
            let next = known.range(moult.on..).next().map(|(on, _)| *on);
            if let Some((before, (stage, begun))) = known.range_mut(..moult.on).next_back() {
                if let Some(parted) = begun.and_then(|place| shown.get_mut(place)) {
                    parted.known_until = Some(known_from);
                }
                *begun = Some(shown.len());
                shown.push(Interval { started_on: *before, ended_on: moult.on, stage: *stage, known_from, known_until: None });
            }
            let begun = next.map(|_| shown.len());
            known.insert(moult.on, (moult.stage, begun));
            shown.extend(next.map(|ended_on| Interval {
                started_on: moult.on,
                ended_on,
                stage: moult.stage,
                known_from,
                known_until: None,
            }));
        }
        shown.retain(|interval| interval.known_until != Some(interval.known_from));
        shown
    }
}
