//! Adding up the lines of a ledger, and refusing those that cannot be.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::{Balance, Bucket, LedgerError, Line, LineKind, Reached};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::LossCause;

/// The balance of a ledger with one more line; the ledger given is not changed.
///
/// # Errors
/// Whatever [`replay`] refuses.
pub fn post(lines: &[Line], line: &Line) -> Result<Balance, LedgerError> {
    let mut with_line = lines.to_vec();
    with_line.push(line.clone());
    replay(&with_line)
}

/// The balance of a whole ledger, its lines in the order of entry.
///
/// # Errors
/// Movements that a kind of line cannot make, losses without a cause, reversals that do not mirror an earlier line
/// that still stands, and any bucket below zero in the order of entry or at the end of a day.
pub fn replay(lines: &[Line]) -> Result<Balance, LedgerError> {
    let mut seen: BTreeMap<i64, &Line> = BTreeMap::new();
    let mut reversed: BTreeSet<i64> = BTreeSet::new();
    let mut balance = Balance::default();
    for line in lines {
        check(line, &seen, &mut reversed)?;
        if seen.insert(line.id, line).is_some() {
            return Err(LedgerError::DuplicateLine(line.id));
        }
        balance.apply(line)?;
    }
    check_days(lines)?;
    Ok(balance)
}

/// The balance at the end of a day, from lines in the order of entry.
///
/// # Errors
/// Whatever [`replay`] refuses of the whole ledger.
pub fn balance_at(lines: &[Line], day: NaiveDate) -> Result<Balance, LedgerError> {
    replay(lines)?;
    let mut totals = Totals::default();
    lines.iter().filter(|line| line.day <= day).for_each(|line| totals.add(line));
    totals.close(day)
}

/// The first day by whose end at least half of those had come that moulted into a stage: their median day. Nothing when none
/// moulted into it; a reversed line counts for nothing.
pub fn middle_day(lines: &[Line], stage: Stage) -> Option<NaiveDate> {
    let mut came: BTreeMap<NaiveDate, u64> = BTreeMap::new();
    for line in standing(lines) {
        if line.to == Bucket::Stage(stage) && line.kind == LineKind::Moulted {
            *came.entry(line.day).or_insert(0) += u64::from(line.quantity);
        }
    }
    let all: u64 = came.values().sum();
    let mut so_far = 0;
    came.into_iter().find_map(|(day, count)| {
        so_far += count;
        (so_far * 2 >= all).then_some(day)
    })
}

/// Of those that came in, how many reached a stage. Animals that were only counted wrong came in by mistake: they
/// are taken off both figures. A reversed line counts for nothing.
pub fn survival_to(lines: &[Line], stage: Stage) -> Reached {
    let reached = |bucket: Bucket| matches!(bucket, Bucket::Stage(at) if at >= stage);
    let on_the_way = |bucket: Bucket| matches!(bucket, Bucket::Stage(_) | Bucket::In | Bucket::Variance);
    let (mut arrived, mut came_in) = (0_i64, 0_i64);
    for line in lines {
        let quantity = i64::from(line.quantity);
        if on_the_way(line.from) && on_the_way(line.to) {
            arrived += quantity * (i64::from(reached(line.to)) - i64::from(reached(line.from)));
        }
        // Out of “in” or variance is into the house, and back again is out of it.
        let outside = |bucket: Bucket| matches!(bucket, Bucket::In | Bucket::Variance);
        came_in += quantity * (i64::from(outside(line.from)) - i64::from(outside(line.to)));
    }
    let whole = |number: i64| u32::try_from(number).unwrap_or(0);
    Reached { reached: whole(arrived), came_in: whole(came_in) }
}

/// The lines that stand, in the order given: without those that were taken back, and without what took them back.
pub fn standing(lines: &[Line]) -> Vec<&Line> {
    let taken_back: BTreeSet<i64> = lines.iter().filter_map(|line| line.reverses).collect();
    lines.iter().filter(|line| line.reverses.is_none() && !taken_back.contains(&line.id)).collect()
}

impl Balance {
    fn apply(&mut self, line: &Line) -> Result<(), LedgerError> {
        let short = |bucket, there| LedgerError::Short { bucket, day: line.day, there, asked: line.quantity };
        let (quantity, source) = (line.quantity, line.from);
        if source == Bucket::In {
            let count = self.counts.entry(Bucket::In).or_default();
            *count = count.checked_add(quantity).ok_or(LedgerError::TooMany)?;
        } else {
            let count = self.counts.entry(source).or_default();
            *count = count.checked_sub(quantity).ok_or_else(|| short(source, *count))?;
        }
        let count = self.counts.entry(line.to).or_default();
        *count = if line.to == Bucket::In {
            count.checked_sub(quantity).ok_or_else(|| short(Bucket::In, *count))?
        } else {
            count.checked_add(quantity).ok_or(LedgerError::TooMany)?
        };
        if let Some(cause) = line.cause {
            let lost = self.lost.entry(cause).or_default();
            let after = if line.to == Bucket::Lost { lost.checked_add(quantity) } else { lost.checked_sub(quantity) };
            *lost = after.ok_or(LedgerError::TooMany)?;
        }
        Ok(())
    }
}

fn check(line: &Line, seen: &BTreeMap<i64, &Line>, reversed: &mut BTreeSet<i64>) -> Result<(), LedgerError> {
    if line.quantity == 0 {
        return Err(LedgerError::Nothing);
    }
    let counted = |bucket: Bucket| !matches!(bucket, Bucket::Stage(stage) if !stage.is_counted());
    let illegal = LedgerError::IllegalMove { kind: line.kind, from: line.from, to: line.to };
    if !counted(line.from) || !counted(line.to) {
        return Err(illegal);
    }
    if line.kind == LineKind::Reversal {
        return check_reversal(line, seen, reversed);
    }
    if line.reverses.is_some() {
        return Err(LedgerError::ReversalLink);
    }
    if !line.kind.allows(line.from, line.to) {
        return Err(illegal);
    }
    match (line.kind, line.cause) {
        (LineKind::Lost, None) => Err(LedgerError::CauseMissing),
        (LineKind::Lost, Some(_)) | (_, None) => Ok(()),
        (_, Some(_)) => Err(LedgerError::CauseMisplaced),
    }
}

fn check_reversal(line: &Line, seen: &BTreeMap<i64, &Line>, reversed: &mut BTreeSet<i64>) -> Result<(), LedgerError> {
    let id = line.reverses.ok_or(LedgerError::ReversalLink)?;
    let original = seen.get(&id).ok_or(LedgerError::NoSuchLine(id))?;
    if original.kind == LineKind::Reversal {
        return Err(LedgerError::ReversalOfReversal(id));
    }
    if (line.from, line.to, line.quantity, line.cause) != (original.to, original.from, original.quantity, original.cause) {
        return Err(LedgerError::NotAMirror(id));
    }
    if line.day < original.day {
        return Err(LedgerError::ReversedTooEarly(id));
    }
    if !reversed.insert(id) {
        return Err(LedgerError::AlreadyReversed(id));
    }
    Ok(())
}

/// Refuses a ledger whose buckets would be below zero at the end of some day, when its lines are put in day order.
fn check_days(lines: &[Line]) -> Result<(), LedgerError> {
    let mut by_day: Vec<&Line> = lines.iter().collect();
    by_day.sort_by_key(|line| line.day);
    let mut totals = Totals::default();
    for same_day in by_day.chunk_by(|one, other| one.day == other.day) {
        same_day.iter().for_each(|line| totals.add(line));
        if let Some(line) = same_day.first() {
            totals.check(line.day)?;
        }
    }
    Ok(())
}

/// Sums that may pass below zero within a day, but not at its end.
#[derive(Default)]
struct Totals {
    counts: BTreeMap<Bucket, i64>,
    lost: BTreeMap<LossCause, i64>,
}

impl Totals {
    fn add(&mut self, line: &Line) {
        let quantity = i64::from(line.quantity);
        let signed = |bucket: Bucket, change: i64| {
            if bucket == Bucket::In { -change } else { change }
        };
        *self.counts.entry(line.from).or_default() += signed(line.from, -quantity);
        *self.counts.entry(line.to).or_default() += signed(line.to, quantity);
        if let Some(cause) = line.cause {
            *self.lost.entry(cause).or_default() += if line.to == Bucket::Lost { quantity } else { -quantity };
        }
    }

    fn check(&self, day: NaiveDate) -> Result<(), LedgerError> {
        match self.counts.iter().find(|(_, count)| **count < 0) {
            None => Ok(()),
            Some((bucket, count)) => {
                let asked = u32::try_from(-count).unwrap_or(u32::MAX);
                Err(LedgerError::ShortAtEndOfDay { bucket: *bucket, day, missing: asked })
            }
        }
    }

    fn close(self, day: NaiveDate) -> Result<Balance, LedgerError> {
        self.check(day)?;
        let whole = |count: i64| u32::try_from(count).map_err(|_| LedgerError::TooMany);
        let counts = self.counts.into_iter().map(|(bucket, count)| Ok((bucket, whole(count)?)));
        let lost = self.lost.into_iter().map(|(cause, count)| Ok((cause, whole(count)?)));
        Ok(Balance { counts: counts.collect::<Result<_, LedgerError>>()?, lost: lost.collect::<Result<_, LedgerError>>()? })
    }
}
