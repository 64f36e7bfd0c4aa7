//! The count ledger of a cohort: double entry, every line moves a quantity from one bucket to another, nothing is
//! edited. Conservation: in = alive + lost + sold + tagged + moved + variance, and no bucket is ever below zero,
//! neither in the order of entry nor at the end of any day.

mod book;
mod words;

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::calendar::written;
pub use super::stage::Stage;
use super::words::LossCause;
pub use book::{balance_at, middle_day, post, replay, standing, survival_to};
pub use words::{Bucket, LineKind};

/// One line of the ledger.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// Its number, unique in the cohort's ledger.
    pub id: i64,
    /// The local day that it happened, which may be before the day it was entered.
    pub day: NaiveDate,
    /// Where the quantity leaves.
    pub from: Bucket,
    /// Where it goes.
    pub to: Bucket,
    /// How many; at least one.
    pub quantity: u32,
    /// What happened.
    pub kind: LineKind,
    /// Why they were lost; only on a loss, and on the reversal of one.
    pub cause: Option<LossCause>,
    /// The line that a reversal takes back.
    pub reverses: Option<i64>,
}

/// Why a line was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LedgerError {
    /// More taken from a bucket than is in it.
    #[error("only {there} in “{bucket}” on {when}; {asked} cannot be taken from it", when = written(*day))]
    Short {
        /// The bucket.
        bucket: Bucket,
        /// The day of the line.
        day: NaiveDate,
        /// How many were there.
        there: u32,
        /// How many were asked for.
        asked: u32,
    },
    /// Enough in the order of entry, but not yet on the day that the lines are dated.
    #[error("on {when} there would be {missing} too few in “{bucket}”; check the days of the lines", when = written(*day))]
    ShortAtEndOfDay {
        /// The bucket.
        bucket: Bucket,
        /// The day at whose end it would be below zero.
        day: NaiveDate,
        /// How many would be missing.
        missing: u32,
    },
    /// A quantity of nothing.
    #[error("the quantity must be at least 1")]
    Nothing,
    /// More than the book can count.
    #[error("the quantity is too large")]
    TooMany,
    /// A movement that this kind of line cannot make.
    #[error("“{kind}” cannot go from “{from}” to “{to}”")]
    IllegalMove {
        /// The kind of line.
        kind: LineKind,
        /// From where.
        from: Bucket,
        /// To where.
        to: Bucket,
    },
    /// A loss without its cause.
    #[error("a loss needs a cause; choose “not known” if nobody knows")]
    CauseMissing,
    /// A cause on something that is not a loss.
    #[error("only a loss has a cause")]
    CauseMisplaced,
    /// Two lines with the same number.
    #[error("line {0} is in the ledger already")]
    DuplicateLine(i64),
    /// A reversal that names no line, or another kind of line that does.
    #[error("a reversal, and only a reversal, names the line it takes back")]
    ReversalLink,
    /// A reversal of a line that is not in the ledger before it.
    #[error("line {0} is not in the ledger, so it cannot be taken back")]
    NoSuchLine(i64),
    /// A reversal of a reversal.
    #[error("line {0} is a reversal itself; enter the movement again instead")]
    ReversalOfReversal(i64),
    /// A line taken back twice.
    #[error("line {0} has been taken back already")]
    AlreadyReversed(i64),
    /// A reversal that is not the mirror image of its line.
    #[error("a reversal of line {0} must move the same number back the same way, with the same cause")]
    NotAMirror(i64),
    /// A reversal dated before its line.
    #[error("line {0} cannot be taken back before the day it happened")]
    ReversedTooEarly(i64),
}

/// How many stand in each bucket. `In` counts all that ever came in.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Balance {
    counts: BTreeMap<Bucket, u32>,
    lost: BTreeMap<LossCause, u32>,
}

impl Balance {
    /// How many stand in a bucket.
    pub fn of(&self, bucket: Bucket) -> u32 {
        self.counts.get(&bucket).copied().unwrap_or(0)
    }

    /// How many came in.
    pub fn came_in(&self) -> u32 {
        self.of(Bucket::In)
    }

    /// How many are alive and on hand.
    pub fn alive(&self) -> u32 {
        self.stages().values().sum()
    }

    /// The stages at which any are alive, with how many.
    pub fn stages(&self) -> BTreeMap<Stage, u32> {
        self.counts
            .iter()
            .filter_map(|(bucket, count)| match bucket {
                Bucket::Stage(stage) if *count > 0 => Some((*stage, *count)),
                _ => None,
            })
            .collect()
    }

    /// The losses by cause; causes without a loss are left out.
    pub fn lost_by_cause(&self) -> BTreeMap<LossCause, u32> {
        self.lost.iter().filter(|(_, count)| **count > 0).map(|(cause, count)| (*cause, *count)).collect()
    }

    /// Whether in = alive + lost + sold + tagged + moved + variance, and the causes add up to the losses.
    pub fn conserved(&self) -> bool {
        let sinks = [Bucket::Lost, Bucket::Sold, Bucket::Tagged, Bucket::Moved, Bucket::Variance];
        let accounted = u64::from(self.alive()) + sinks.iter().map(|sink| u64::from(self.of(*sink))).sum::<u64>();
        u64::from(self.came_in()) == accounted && self.lost.values().sum::<u32>() == self.of(Bucket::Lost)
    }
}

/// Of those that came in, how many reached a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Reached {
    /// How many reached it.
    pub reached: u32,
    /// How many came in, counting errors taken off.
    pub came_in: u32,
}

impl Reached {
    /// Reached ÷ came in, 0 to 1; nothing when none came in.
    pub fn ratio(self) -> Option<f64> {
        (self.came_in > 0).then(|| f64::from(self.reached) / f64::from(self.came_in))
    }
}

/// Of the living, those held back for breeding and those free to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct HeldAndFree {
    /// Held back; never more than are alive.
    pub held: u32,
    /// Free to go.
    pub free: u32,
}

/// Splits the living into held back and free. When losses have left fewer than were held back, all are held.
pub fn held_and_free(alive: u32, held: u32) -> HeldAndFree {
    let held = held.min(alive);
    HeldAndFree { held, free: alive - held }
}

/// A movement that a recount asks for, to be entered as a line of kind `recounted`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Movement {
    /// From where.
    pub from: Bucket,
    /// To where.
    pub to: Bucket,
    /// How many.
    pub quantity: u32,
}

/// The movements that bring the book to what was counted, stage by stage; stages not counted are left alone.
///
/// Where fewer were counted the difference goes to variance. Where more were counted they come out of variance
/// first, what earlier movements of this recount put there included, and only then are taken as come in.
pub fn recount(book: &Balance, counted: &BTreeMap<Stage, u32>) -> Vec<Movement> {
    let mut movements = Vec::new();
    let mut variance = book.of(Bucket::Variance);
    for (stage, count) in counted {
        let short = book.of(Bucket::Stage(*stage)).saturating_sub(*count);
        variance = variance.saturating_add(short);
        push(&mut movements, Bucket::Stage(*stage), Bucket::Variance, short);
    }
    for (stage, count) in counted {
        let surplus = count.saturating_sub(book.of(Bucket::Stage(*stage)));
        let found_again = surplus.min(variance);
        variance -= found_again;
        push(&mut movements, Bucket::Variance, Bucket::Stage(*stage), found_again);
        push(&mut movements, Bucket::In, Bucket::Stage(*stage), surplus - found_again);
    }
    movements
}

fn push(movements: &mut Vec<Movement>, from: Bucket, to: Bucket, quantity: u32) {
    if quantity > 0 {
        movements.push(Movement { from, to, quantity });
    }
}
