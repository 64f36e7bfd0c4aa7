//! What a house learns of one species at one life stage, and how much animals of it differ.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::running::{Counting, Running};
use super::{OWN_WEIGHT, UsualRanges};
use crate::reckoning::calendar::days_after;
use crate::reckoning::moult::belief::{Belief, BeliefError, Sums};
use crate::reckoning::moult::history::{History, Interval};
use crate::reckoning::words::LifeStage;

/// An interval counts for the house once this share of the usual ones would have ended.
const GUARD: f64 = 0.975;
/// As how many degrees of freedom the starting value of the own weight counts (common practice, no source).
const FREEDOM_BEFORE: f64 = 40.0;
/// The least and most share of the variance that is taken to lie within an animal, so that neither its own history nor
/// that of its kind is ever left out (common practice, no source).
const SHARE_WITHIN: (f64, f64) = (0.2, 0.98);

/// One life stage.
#[derive(Debug, Clone)]
pub(super) struct Kind {
    pub(super) usual: (u32, u32),
    pub(super) prior: Belief,
    guard_days: u32,
    house: Running,
}

/// Every life stage of a species, and how much animals differ from themselves.
#[derive(Debug, Clone)]
pub(super) struct Kinds {
    stages: BTreeMap<LifeStage, Kind>,
    /// Squares of the intervals of an animal at a life stage about their own mean, of all animals and stages.
    within: Running,
}

impl Kind {
    fn new((least, most): (u32, u32)) -> Result<Self, BeliefError> {
        let prior = Belief::from_usual_range(least, most)?;
        Ok(Self { usual: (least, most), prior, guard_days: prior.days_within(GUARD).ceil() as u32, house: Running::default() })
    }

    /// An interval as the sums hold it: ln(days) less the mean of the usual range.
    pub(super) fn value(&self, interval: &Interval) -> f64 {
        interval.days().ln() - self.prior.mean
    }

    /// The sums of the house on a day without an animal's own.
    pub(super) fn house_without(&self, own: Sums, day: NaiveDate) -> Sums {
        self.house.on(day).less(own)
    }
}

impl Kinds {
    pub(super) fn new(usual: &UsualRanges, histories: &[History]) -> Result<Self, (LifeStage, BeliefError)> {
        let stages = usual.iter().map(|(&stage, &range)| Ok((stage, Kind::new(range).map_err(|error| (stage, error))?)));
        let mut kinds = Self { stages: stages.collect::<Result<_, _>>()?, within: Running::default() };
        let (mut by_stage, mut within) = (BTreeMap::<LifeStage, Vec<Counting>>::new(), Vec::new());
        for history in histories {
            for (stage, own) in kinds.counted(history) {
                within.extend(Running::new(&own).changes_within());
                by_stage.entry(stage).or_default().extend(own);
            }
        }
        for (stage, counting) in by_stage {
            if let Some(kind) = kinds.stages.get_mut(&stage) {
                kind.house = Running::new(&counting);
            }
        }
        kinds.within = Running::of_changes(within);
        Ok(kinds)
    }

    pub(super) fn get(&self, stage: LifeStage) -> Option<&Kind> {
        self.stages.get(&stage)
    }

    /// The intervals of a history that count for the house, by life stage. One counts from the day on which one that was
    /// much longer would have ended too; never, if the animal was not here long enough to show a long one.
    pub(super) fn counted(&self, history: &History) -> BTreeMap<LifeStage, Vec<Counting>> {
        let mut counted = BTreeMap::<LifeStage, Vec<Counting>>::new();
        for interval in history.intervals() {
            let Some(kind) = self.get(interval.stage) else { continue };
            let long_would_show = days_after(interval.started_on, kind.guard_days);
            if history.left_on().is_none_or(|left| left >= long_would_show) {
                let from = interval.known_from.max(long_would_show);
                let counting = Counting { value: kind.value(&interval), from, until: interval.known_until };
                counted.entry(interval.stage).or_default().push(counting);
            }
        }
        counted
    }

    /// As how many of an animal's own intervals the mean of its kind counts: the variance within an animal over that
    /// between animals. It begins at [`OWN_WEIGHT`] and moves as the house shows how much of the whole variance lies
    /// within animals (one-way analysis of variance; Fisher 1925, Statistical Methods for Research Workers).
    pub(super) fn own_weight(&self, day: NaiveDate) -> f64 {
        let whole = self.stages.values().map(|kind| kind.house.on(day).within()).fold(Sums::default(), Sums::plus);
        let (within, variance) = (self.within.on(day), whole.sum / whole.count);
        if !(variance.is_finite() && variance > 1e-9) {
            return OWN_WEIGHT;
        }
        let at_first = OWN_WEIGHT / (OWN_WEIGHT + 1.0);
        let share = (FREEDOM_BEFORE * at_first + (within.sum / variance).max(0.0)) / (FREEDOM_BEFORE + within.count.max(0.0));
        let share = share.clamp(SHARE_WITHIN.0, SHARE_WITHIN.1);
        share / (1.0 - share)
    }
}
