//! Survival of groups of animals that are counted in days: how many lived how long, and whether one group dies faster
//! than another. Animals that left alive count for as long as they were watched.

mod cohort;
mod kaplan_meier;
mod log_rank;
mod timeline;

use serde::{Deserialize, Serialize};

pub use cohort::{CohortError, CohortFollowed, Origin, OriginDays, TaggedEnd, followed_from_ledger};
pub use kaplan_meier::{Survival, kaplan_meier};
pub use log_rank::{Group, GroupLosses, LEVEL, LEVEL_NOTE, LogRank, LogRankError, MOST_GROUPS, MOST_ROWS, Verdict, log_rank};

coded_enum! {
    /// How the following of an animal ended: lost to death, or left alive (sold, moved, still here today).
    End, "end" {
        Lost = "lost", "lost";
        Left = "left", "left";
    }
}

/// Animals whose following ended on the same day in the same way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Observation {
    /// Days since day 0.
    pub day: u32,
    /// How many; at least one.
    pub count: u32,
    /// What became of them.
    pub event: End,
}

/// Animals whose following began on the same day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Days since day 0.
    pub day: u32,
    /// How many; at least one.
    pub count: u32,
}

/// A group of animals with the days on which following them began and ended.
///
/// Without `entries` all are at risk from day 0. With them each is at risk from its own day of entry (delayed entry,
/// left truncation), and the number at risk on a day is that of those who came in on or before it, less those gone
/// before it. Textbooks with exact times count an animal from the instant after its entry (Klein & Moeschberger,
/// Survival Analysis, from memory). Here a day is the smallest unit, and one that came in this morning can be found
/// dead this evening: counting it on its own day gives every loss somebody at risk, and makes a group that came in on
/// day 0 the plain case.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Followed {
    /// When they came in, in any order; empty when all were there from day 0.
    #[serde(default)]
    pub entries: Vec<Entry>,
    /// When and how their following ended, in any order.
    pub ends: Vec<Observation>,
}

/// Why a group can't be reckoned with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SurvivalError {
    /// Nobody was followed.
    #[error("nobody was followed; give at least one observation")]
    Nothing,
    /// An end of nobody; rows count from 0.
    #[error("the count must be at least 1; leave the observation out")]
    NoCount {
        /// Which row of the ends.
        row: usize,
    },
    /// An entry of nobody; rows count from 0.
    #[error("the count must be at least 1; leave the entry out")]
    NoEntryCount {
        /// Which row of the entries.
        row: usize,
    },
    /// More than can be counted.
    #[error("more than {most} animals altogether; split the group", most = u32::MAX)]
    TooMany,
    /// Some that came in have no end, or the other way round.
    #[error("{entered} came in and {ended} were lost or left; each one that came in needs one end")]
    Unbalanced {
        /// How many came in.
        entered: u64,
        /// How many ended.
        ended: u64,
    },
    /// An end before the entry.
    #[error("by day {day} more have gone than came in; check the days of the entries")]
    GoneBeforeEntry {
        /// The first such day.
        day: u32,
    },
    /// A mean over no days.
    #[error("must be at least 1 day")]
    NoTau,
}
