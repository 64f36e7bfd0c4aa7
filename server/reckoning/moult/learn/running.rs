//! Sums of values by the day from which they count.

use chrono::NaiveDate;

use crate::reckoning::moult::belief::Sums;

/// A value and the days on which it counts: from one day on, and until the day before another, if there is one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Counting {
    pub(super) value: f64,
    pub(super) from: NaiveDate,
    pub(super) until: Option<NaiveDate>,
}

/// Sums as they stood at the end of each day on which they changed.
#[derive(Debug, Clone, Default)]
pub(super) struct Running(Vec<(NaiveDate, Sums)>);

impl Running {
    pub(super) fn new(values: &[Counting]) -> Self {
        let mut changes = Vec::with_capacity(values.len());
        for counting in values.iter().filter(|counting| counting.until.is_none_or(|until| until > counting.from)) {
            changes.push((counting.from, Sums::default().and(1.0, counting.value)));
            changes.extend(counting.until.map(|until| (until, Sums::default().and(-1.0, counting.value))));
        }
        Self::of_changes(changes)
    }

    /// The sums after changes on these days, in any order.
    pub(super) fn of_changes(mut changes: Vec<(NaiveDate, Sums)>) -> Self {
        changes.sort_by_key(|(day, _)| *day);
        let mut sums = Sums::default();
        let after_each = changes.into_iter().map(|(day, change)| {
            sums = sums.plus(change);
            (day, sums)
        });
        Self(after_each.collect())
    }

    /// How the sum of squares about the mean changes, and its degrees of freedom with it.
    pub(super) fn changes_within(&self) -> impl Iterator<Item = (NaiveDate, Sums)> {
        let after = self.0.iter().map(|(day, sums)| (*day, sums.within()));
        let before = std::iter::once(Sums::default()).chain(self.0.iter().map(|(_, sums)| sums.within()));
        after.zip(before).map(|((day, after), before)| (day, after.less(before)))
    }

    /// The sums of all that count on a day.
    pub(super) fn on(&self, day: NaiveDate) -> Sums {
        let changed = self.0.partition_point(|(on, _)| *on <= day);
        changed.checked_sub(1).and_then(|last| self.0.get(last)).map_or_else(Sums::default, |(_, sums)| *sums)
    }
}
