//! Days at each stage.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;

use crate::reckoning::calendar::days_between;
use crate::reckoning::ledger::{Bucket, Line, LineKind};
use crate::reckoning::stage::Stage;

/// How long a brood was at a stage.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StageDays {
    /// The stage.
    pub stage: Stage,
    /// The day by which half of those that came to it had come: its median day.
    pub came: NaiveDate,
    /// How many came to it.
    pub count: u32,
    /// Days from the laying of its sac to that day, where the laying is known.
    pub since_laid: Option<i64>,
    /// Days from there to the median day of the next stage; nothing until half of those that neither died nor left have gone on.
    pub days: Option<i64>,
}

/// A stage, the median day of coming to it, and how many came.
type Came = (Stage, NaiveDate, u32);

/// The stages that any came to, in order. Nobody follows single spiderlings, so the days at a stage are those between the
/// median days of coming to it and to the next one (common practice, no source). A stage that was jumped in the book has
/// no row; the days of the one before it then run to the next that has. Eggs that were only found bad make no row.
pub(super) fn days(lines: &[&Line], laid: Option<NaiveDate>) -> Vec<StageDays> {
    let mut came: BTreeMap<Stage, BTreeMap<NaiveDate, u32>> = BTreeMap::new();
    for line in lines.iter().filter(|line| matches!(line.kind, LineKind::Moulted | LineKind::Received)) {
        if let Bucket::Stage(stage) = line.to {
            let on = came.entry(stage).or_default().entry(line.day).or_default();
            *on = on.saturating_add(line.quantity);
        }
    }
    let middles: Vec<Came> = came
        .iter()
        .filter(|(stage, days)| **stage != Stage::Egg || days.values().sum::<u32>() > gone(lines, Stage::Egg))
        .filter_map(|(stage, days)| middle(*stage, days))
        .collect();
    let next = middles.iter().skip(1).copied().map(Some).chain([None]);
    let row = |((stage, day, count), next): (&Came, Option<Came>)| {
        let stayed = count.saturating_sub(gone(lines, *stage));
        let gone_on = next.filter(|(_, _, on)| u64::from(*on) * 2 >= u64::from(stayed));
        StageDays {
            stage: *stage,
            came: *day,
            count: *count,
            since_laid: laid.map(|laid| days_between(laid, *day)),
            days: gone_on.map(|(_, next, _)| days_between(*day, next)).filter(|days| *days >= 0),
        }
    };
    middles.iter().zip(next).map(row).collect()
}

/// How many left the book at a stage: dead, sold, tagged, counted wrong.
fn gone(lines: &[&Line], stage: Stage) -> u32 {
    let went = lines.iter().filter(|line| line.from == Bucket::Stage(stage) && !matches!(line.to, Bucket::Stage(_)));
    went.map(|line| line.quantity).fold(0, u32::saturating_add)
}

/// The first day by whose end at least half had come.
fn middle(stage: Stage, days: &BTreeMap<NaiveDate, u32>) -> Option<Came> {
    let all: u64 = days.values().map(|count| u64::from(*count)).sum();
    let mut so_far = 0;
    let day = days.iter().find_map(|(day, count)| {
        so_far += u64::from(*count);
        (so_far * 2 >= all).then_some(*day)
    })?;
    Some((stage, day, u32::try_from(all).unwrap_or(u32::MAX)))
}
