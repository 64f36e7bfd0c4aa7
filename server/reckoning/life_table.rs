//! The life table by stage: of those that entered a stage, how many were lost in it, of what, and how many of all are
//! still alive when the next begins.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Display;

use serde::{Deserialize, Serialize};

use super::ledger::{Bucket, LedgerError, Line, replay, standing};
use super::stage::Stage;
use super::words::LossCause;

/// Losses of one cause.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseCount<C = LossCause> {
    /// The cause.
    pub cause: C,
    /// How many were lost of it.
    pub count: u32,
}

/// What happened to those that entered a stage. Those neither lost nor left went on to the next.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StageRow<S = Stage, C = LossCause> {
    /// The stage.
    pub stage: S,
    /// How many entered it.
    pub entered: u32,
    /// How many were lost in it, by cause.
    pub lost: Vec<CauseCount<C>>,
    /// How many left in it alive, or are in it still.
    pub left: u32,
}

/// Losses of one cause, as a share.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CauseShare<C = LossCause> {
    /// The cause.
    pub cause: C,
    /// How many were lost of it.
    pub count: u32,
    /// Their share of the losses in the stage, 0 to 1; 0 when none were lost.
    pub share: f64,
}

/// A stage in the table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LifeRow<S = Stage, C = LossCause> {
    /// The stage.
    pub stage: S,
    /// How many entered it.
    pub entered: u32,
    /// How many were lost in it.
    pub lost: u32,
    /// How many left in it, or are in it still.
    pub left: u32,
    /// The share lost of those that entered; nothing when none entered.
    pub q_crude: Option<f64>,
    /// The share lost when those that left count half; nothing when none entered.
    pub q_actuarial: Option<f64>,
    /// The share of all alive on entering the stage, from `q_crude`; nothing after a stage that none entered.
    pub l_crude: Option<f64>,
    /// The same from `q_actuarial`.
    pub l_actuarial: Option<f64>,
    /// The causes, in the order given.
    pub causes: Vec<CauseShare<C>>,
}

/// A life table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LifeTable<S = Stage, C = LossCause> {
    /// The stages in the order given.
    pub stages: Vec<LifeRow<S, C>>,
    /// The share alive after the last stage, from `q_crude`; nothing after a stage that none entered.
    pub l_end_crude: Option<f64>,
    /// The same from `q_actuarial`.
    pub l_end_actuarial: Option<f64>,
    /// What the table shows, in one sentence.
    pub summary: String,
}

/// Why a table can't be made. Rows count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LifeTableError {
    /// No stages.
    #[error("give at least one stage")]
    NoStages,
    /// A stage given twice.
    #[error("this stage is given twice; give one row for each")]
    StageTwice {
        /// The second row.
        row: usize,
    },
    /// A cause given twice in one stage.
    #[error("this cause is given twice; add the two up")]
    CauseTwice {
        /// The row of the stage.
        row: usize,
        /// The row of the cause within it.
        cause: usize,
    },
    /// More gone than entered.
    #[error("{gone} were lost or left, but only {entered} entered")]
    MoreThanEntered {
        /// The row of the stage.
        row: usize,
        /// How many were lost or left.
        gone: u64,
        /// How many entered.
        entered: u32,
    },
}

/// The life table of stages in order of age: q = lost ÷ entered (crude), or lost ÷ (entered − left/2), those that left
/// counting half (actuarial); l of a stage is the product of 1 − q over the stages before it. Each stage is reckoned
/// from those that entered it, so animals that came in at a later stage count from there on.
///
/// Source: Berkson & Gage, Proc. Staff Meet. Mayo Clin. 25: 270-286, 1950 (from memory).
///
/// # Errors
/// No stages, a stage or a cause twice, more lost and left than entered.
pub fn life_table<S: Clone + Ord + Display, C: Clone + Ord>(rows: &[StageRow<S, C>]) -> Result<LifeTable<S, C>, LifeTableError> {
    if rows.is_empty() {
        return Err(LifeTableError::NoStages);
    }
    let mut seen = BTreeSet::new();
    let (mut l_crude, mut l_actuarial) = (Some(1.0), Some(1.0));
    let mut stages = Vec::with_capacity(rows.len());
    for (row, given) in rows.iter().enumerate() {
        if !seen.insert(&given.stage) {
            return Err(LifeTableError::StageTwice { row });
        }
        let lost = lost_in(row, given)?;
        let share = |of: f64| (given.entered > 0).then(|| f64::from(lost) / of);
        let entered = f64::from(given.entered);
        let (q_crude, q_actuarial) = (share(entered), share(entered - f64::from(given.left) / 2.0));
        let causes = given.lost.iter().map(|of| CauseShare { cause: of.cause.clone(), count: of.count, share: part(of.count, lost) });
        let (stage, causes) = (given.stage.clone(), causes.collect());
        stages.push(LifeRow { stage, entered: given.entered, lost, left: given.left, q_crude, q_actuarial, l_crude, l_actuarial, causes });
        l_crude = after(l_crude, q_crude);
        l_actuarial = after(l_actuarial, q_actuarial);
    }
    let summary = summary(&stages, l_actuarial);
    Ok(LifeTable { stages, l_end_crude: l_crude, l_end_actuarial: l_actuarial, summary })
}

/// The losses of a row, which is held against what entered.
fn lost_in<S, C: Ord>(row: usize, given: &StageRow<S, C>) -> Result<u32, LifeTableError> {
    let mut seen = BTreeSet::new();
    if let Some(cause) = given.lost.iter().position(|of| !seen.insert(&of.cause)) {
        return Err(LifeTableError::CauseTwice { row, cause });
    }
    let lost: u64 = given.lost.iter().map(|of| u64::from(of.count)).sum();
    let gone = lost + u64::from(given.left);
    let too_many = LifeTableError::MoreThanEntered { row, gone, entered: given.entered };
    if gone > u64::from(given.entered) { Err(too_many) } else { u32::try_from(lost).map_err(|_| too_many) }
}

fn part(count: u32, of: u32) -> f64 {
    if of == 0 { 0.0 } else { f64::from(count) / f64::from(of) }
}

fn after(l: Option<f64>, q: Option<f64>) -> Option<f64> {
    Some(l? * (1.0 - q?))
}

fn summary<S: Display, C>(stages: &[LifeRow<S, C>], l_end: Option<f64>) -> String {
    let (Some(first), Some(last)) = (stages.first(), stages.last()) else {
        return String::new();
    };
    let through = match l_end {
        Some(l) => {
            format!("{:.1} % of those that entered {} lived through {}, those that left counting half", 100.0 * l, first.stage, last.stage)
        }
        None => "none entered one of the stages, so the share that lived through all is not known".to_owned(),
    };
    // The first of those with the highest share lost.
    let rate = |row: &&LifeRow<S, C>| row.q_actuarial.unwrap_or(0.0);
    let hardest = stages.iter().rev().max_by(|one, other| rate(one).total_cmp(&rate(other))).filter(|row| row.lost > 0);
    let hardest = hardest.map_or_else(
        || "none were lost".to_owned(),
        |row| format!("hardest was {}, where {} of {} were lost", row.stage, row.lost, row.entered),
    );
    format!("{through}; {hardest}")
}

#[derive(Default)]
struct Tally {
    entered: u64,
    moulted_on: u64,
    lost: BTreeMap<LossCause, u64>,
}

/// The rows of a cohort's ledger, for [`life_table`]: every stage that any entered, in order.
///
/// Sold, tagged, moved, escaped, counted wrong, and still at the stage all count as left; an escape is no death. Lines
/// that were taken back count for nothing. A line that moults animals over several stages at once takes them through
/// each stage between: a spider can't skip a moult, so whoever is third instar has lived through the second.
///
/// # Errors
/// A ledger that does not add up, or in which more entered a stage than can be counted.
pub fn stages_of_ledger(lines: &[Line]) -> Result<Vec<StageRow>, LedgerError> {
    replay(lines)?;
    let mut tallies: BTreeMap<Stage, Tally> = BTreeMap::new();
    for line in standing(lines) {
        let quantity = u64::from(line.quantity);
        if let Bucket::Stage(to) = line.to {
            tallies.entry(to).or_default().entered += quantity;
        }
        match (line.from, line.to) {
            (Bucket::Stage(from), Bucket::Stage(to)) => {
                tallies.entry(from).or_default().moulted_on += quantity;
                for between in Stage::all().filter(|stage| from < *stage && *stage < to) {
                    let tally = tallies.entry(between).or_default();
                    tally.entered += quantity;
                    tally.moulted_on += quantity;
                }
            }
            (Bucket::Stage(from), Bucket::Lost) => {
                let cause = line.cause.filter(|cause| *cause != LossCause::Escape);
                if let Some(cause) = cause {
                    *tallies.entry(from).or_default().lost.entry(cause).or_default() += quantity;
                }
            }
            _ => {}
        }
    }
    tallies.into_iter().map(|(stage, tally)| tally.row(stage)).collect()
}

impl Tally {
    fn row(self, stage: Stage) -> Result<StageRow, LedgerError> {
        let whole = |count: u64| u32::try_from(count).map_err(|_| LedgerError::TooMany);
        let lost: u64 = self.lost.values().sum();
        let left = self.entered.saturating_sub(self.moulted_on + lost);
        let causes = self.lost.into_iter().map(|(cause, count)| Ok(CauseCount { cause, count: whole(count)? }));
        Ok(StageRow { stage, entered: whole(self.entered)?, lost: causes.collect::<Result<_, LedgerError>>()?, left: whole(left)? })
    }
}
