//! How many of a cohort were at risk and how many died, day by day, and what a ledger says of it.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

use crate::reckoning::calendar::{days_between, written};
use crate::reckoning::ledger::{Bucket, Line, LineKind};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::LossCause;

/// One day of a cohort at a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Day {
    /// The day.
    pub day: NaiveDate,
    /// How many stood at the stage that day: those left at its end and those that died.
    pub at_risk: u32,
    /// How many were found dead.
    pub lost: u32,
    /// How many were found missing: escaped, so not dead, and not counted in `at_risk`.
    #[serde(default)]
    pub missing: u32,
}

/// Why a list of days was refused. Places are counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum DaysError {
    /// A day that is not after the one before it in the list.
    #[error("{when} is not after the day before it in the list; give each day once, in order", when = written(*day))]
    Order {
        /// Its place in the list.
        place: usize,
        /// The day.
        day: NaiveDate,
    },
    /// More dead than there were.
    #[error("{lost} lost, but only {at_risk} were at risk that day")]
    MoreThanThere {
        /// The place in the list.
        place: usize,
        /// How many were lost.
        lost: u32,
        /// How many were there.
        at_risk: u32,
    },
}

/// The days of a cohort at a stage, in order, each once. A day that is not listed has as many at risk as the listed day
/// before it left alive; before the first there are none.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Series {
    days: Vec<Day>,
}

/// What a stretch of days adds up to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tally {
    /// How many died.
    pub lost: u64,
    /// The spiderling-days at risk: each day's number at risk, added up.
    pub exposure: u64,
    /// How many were found missing.
    #[serde(default)]
    pub missing: u64,
}

impl Series {
    /// Checks a list of days.
    ///
    /// # Errors
    /// Days out of order or given twice; more lost than were at risk.
    pub fn new(days: Vec<Day>) -> Result<Self, DaysError> {
        let mut before = None;
        for (place, Day { day, at_risk, lost, .. }) in days.iter().copied().enumerate() {
            if before.is_some_and(|before| before >= day) {
                return Err(DaysError::Order { place, day });
            }
            if lost > at_risk {
                return Err(DaysError::MoreThanThere { place, lost, at_risk });
            }
            before = Some(day);
        }
        Ok(Self { days })
    }

    /// The days that are listed.
    pub fn days(&self) -> &[Day] {
        &self.days
    }

    /// The first day that is listed.
    pub fn first(&self) -> Option<NaiveDate> {
        self.days.first().map(|day| day.day)
    }

    /// The listed days of a stretch, both ends included.
    pub fn within(&self, from: NaiveDate, to: NaiveDate) -> impl Iterator<Item = &Day> {
        let before = self.days.partition_point(|day| day.day < from);
        self.days.iter().skip(before).take_while(move |day| day.day <= to)
    }

    /// How many were at risk on a day.
    pub fn at_risk_on(&self, day: NaiveDate) -> u32 {
        match self.listed_by(day) {
            Some(listed) if listed.day == day => listed.at_risk,
            _ => self.left_after(day),
        }
    }

    /// What a stretch of days adds up to, both ends included.
    pub fn tally(&self, from: NaiveDate, to: NaiveDate) -> Tally {
        self.tallies(from, &[to]).first().copied().unwrap_or_default()
    }

    /// What stretches add up to that follow on each other: the first from a day on, each to its last day, in order.
    pub(super) fn tallies(&self, from: NaiveDate, ends: &[NaiveDate]) -> Vec<Tally> {
        // Days are at most 2e8 and spiderlings at most 5e9, so their products fit 64 bits.
        let days = |from: NaiveDate, to: NaiveDate| u64::try_from(days_between(from, to)).unwrap_or(0);
        let mut left = from.pred_opt().map_or(0, |eve| self.left_after(eve));
        let mut next = from;
        let mut listed = self.within(from, NaiveDate::MAX).peekable();
        let stretch = |end: &NaiveDate| {
            let mut tally = Tally::default();
            while let Some(day) = listed.next_if(|day| day.day <= *end) {
                tally.exposure += u64::from(left) * days(next, day.day) + u64::from(day.at_risk);
                tally.lost += u64::from(day.lost);
                tally.missing += u64::from(day.missing);
                left = day.at_risk - day.lost;
                next = after(day.day);
            }
            let eve = after(*end);
            tally.exposure += u64::from(left) * days(next, eve);
            next = next.max(eve);
            tally
        };
        ends.iter().map(stretch).collect()
    }

    fn left_after(&self, day: NaiveDate) -> u32 {
        self.listed_by(day).map_or(0, |listed| listed.at_risk - listed.lost)
    }

    /// The last listed day up to a day.
    fn listed_by(&self, day: NaiveDate) -> Option<&Day> {
        self.days.get(..self.days.partition_point(|listed| listed.day <= day)).and_then(<[Day]>::last)
    }
}

impl Tally {
    /// Both together.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            lost: self.lost.saturating_add(other.lost),
            exposure: self.exposure.saturating_add(other.exposure),
            missing: self.missing.saturating_add(other.missing),
        }
    }

    /// What is left of a sum without a part of it.
    #[must_use]
    pub fn less(self, part: Self) -> Self {
        Self {
            lost: self.lost.saturating_sub(part.lost),
            exposure: self.exposure.saturating_sub(part.exposure),
            missing: self.missing.saturating_sub(part.missing),
        }
    }
}

/// Which of a cohort are meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Among {
    /// Those at one stage.
    Stage(Stage),
    /// All that have hatched: post-embryos and every instar.
    AllHatched,
}

impl Among {
    fn holds(self, bucket: Bucket) -> bool {
        match (self, bucket) {
            (Self::Stage(wanted), Bucket::Stage(stage)) => stage == wanted,
            (Self::AllHatched, Bucket::Stage(stage)) => stage > Stage::Egg,
            _ => false,
        }
    }
}

#[derive(Default)]
struct Change {
    came: i64,
    went: i64,
    lost: i64,
    missing: i64,
}

/// The days of a ledger on which something changed, from one day to another, both included; the first is always listed.
///
/// A line that was taken back counts for nothing, nor does its reversal. An escape is counted as missing, not as a
/// death, and a miscount as neither. The ledger is one that [`replay`](crate::reckoning::ledger::replay) accepts.
pub fn days_of_ledger(lines: &[Line], among: Among, from: NaiveDate, to: NaiveDate) -> Vec<Day> {
    let taken_back: BTreeSet<i64> = lines.iter().filter_map(|line| line.reverses).collect();
    let standing = lines.iter().filter(|line| line.kind != LineKind::Reversal && !taken_back.contains(&line.id));
    let mut changes: BTreeMap<NaiveDate, Change> = BTreeMap::from([(from, Change::default())]);
    let mut there = 0_i64;
    for line in standing.filter(|line| line.day <= to) {
        let quantity = i64::from(line.quantity);
        let (leaves, arrives) = (among.holds(line.from), among.holds(line.to));
        if line.day < from {
            there += quantity * (i64::from(arrives) - i64::from(leaves));
        } else if leaves != arrives {
            let change = changes.entry(line.day).or_default();
            match (line.kind, line.cause) {
                _ if arrives => change.came += quantity,
                (LineKind::Lost, Some(LossCause::Escape)) => change.missing += quantity,
                (LineKind::Lost, _) => change.lost += quantity,
                _ => change.went += quantity,
            }
        }
    }
    let whole = |number: i64| u32::try_from(number.max(0)).unwrap_or(u32::MAX);
    let day = |(day, change): (NaiveDate, Change)| {
        // Without the lines that were taken back the number may pass below zero for a while; then nobody is at risk.
        there = (there + change.came - change.went - change.lost - change.missing).max(0);
        Day { day, at_risk: whole(there.saturating_add(change.lost)), lost: whole(change.lost), missing: whole(change.missing) }
    };
    changes.into_iter().filter(|(day, _)| *day <= to).map(day).collect()
}

/// The day after; the same at the end of the calendar.
pub(super) fn after(day: NaiveDate) -> NaiveDate {
    day.succ_opt().unwrap_or(day)
}

/// The day so many days earlier; the start of the calendar if there is none.
pub(super) fn days_before(day: NaiveDate, days: u32) -> NaiveDate {
    day.checked_sub_days(Days::new(days.into())).unwrap_or(NaiveDate::MIN)
}
