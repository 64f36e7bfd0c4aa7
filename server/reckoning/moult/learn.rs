//! What a house learns of the time between moults, from what is usual to what one animal does.
//!
//! 1. The usual range of a species and life stage gives the belief to begin with ([`Belief::from_usual_range`]): the
//!    range is the spread of one house's moults, and the doubt about where this house's mean lies comes on top.
//! 2. The house's own finished intervals of that species and stage update it. An interval counts only from the day on
//!    which one that was much longer would have ended too: in a young book only short ones have finished, and the house
//!    would learn them alone (length-biased sampling: Cox 1969, Some sampling problems in technology, from memory).
//! 3. The animal's own finished intervals update that. Before them the mean of its kind counts as so many intervals as
//!    the variance within an animal is larger than that between animals: [`OWN_WEIGHT`] at first, and then as the house
//!    learns (the usual shrinkage of a hierarchical normal model; Gelman et al., Bayesian Data Analysis, chapter 5). An
//!    interval of another life stage is scaled to this one by what is believed of both. An animal's own intervals are
//!    left out of the second step when it is the one to be forecast: nothing counts twice.
//!
//! The sums behind the second step are kept by the day from which they count, so that a forecast as of any day costs a
//! few searches, however large the book.

mod kind;
mod running;

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::belief::{Belief, BeliefError, MOST_DAYS, RANGE_WEIGHT, Sums, Window};
use super::history::{History, Moult};
use crate::reckoning::calendar::{days_after, days_between};
use crate::reckoning::words::LifeStage;
use kind::Kinds;
use running::{Counting, Running};

/// As how many intervals the mean of its kind counts against an animal's own, before the house has learnt it: the
/// variance within an animal over that between animals, 0.20² over 0.10² in logarithms (common practice, no source).
pub const OWN_WEIGHT: f64 = 4.0;
/// The most that the spread of the kind counts against an animal's own, as `alpha`. Hundreds of intervals in the house
/// make `alpha` so large that an animal's dozen could never show that it is steadier or less steady than its kind; at
/// 10 the spread of the kind counts as 20 intervals (common practice, no source).
const MOST_KIND_ALPHA: f64 = 10.0;

/// Why a house's learning or a forecast was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LearnError {
    /// A usual range or belief that can't be.
    #[error("{stage}: {error}")]
    Belief {
        /// The stage it is of.
        stage: LifeStage,
        /// What is wrong.
        error: BeliefError,
    },
    /// No usual range for a life stage.
    #[error("no usual days between moults are given for a {0}: add them to its care profile")]
    NoRange(LifeStage),
    /// No moult to reckon from.
    #[error("no moult is on record: write down one, and the next can be forecast")]
    NoMoult,
}

impl LearnError {
    fn of(stage: LifeStage, error: BeliefError) -> Self {
        Self::Belief { stage, error }
    }
}

/// The usual days from one moult to the next (least, most) by life stage, of one species.
pub type UsualRanges = BTreeMap<LifeStage, (u32, u32)>;

/// A window of days on the calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct DayWindow {
    /// One in ten moults comes before this day.
    pub from: NaiveDate,
    /// As likely before as after.
    pub likely: NaiveDate,
    /// One in ten moults comes after this day.
    pub to: NaiveDate,
}

/// When the next moult is to be expected, and what that rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MoultForecast {
    /// One in ten comes before this day, as there was no moult until today.
    pub from: NaiveDate,
    /// As likely before as after, as there was no moult until today.
    pub likely: NaiveDate,
    /// One in ten comes after this day, as there was no moult until today.
    pub to: NaiveDate,
    /// The window as it was told on the day on which the last moult was written down.
    pub at_moult: DayWindow,
    /// The chance of a moult within the next 7 days (0 to 1).
    pub probability_within_7_days: f64,
    /// How many of its own intervals it rests on.
    pub own: usize,
    /// How many intervals of others of its species and life stage in this house it rests on.
    pub house: usize,
    /// The share of the usual range in what is believed of the mean of its kind (0 to 1).
    pub prior_weight: f64,
    /// As how many of its own intervals the mean of its kind counts.
    pub own_weight: f64,
    /// What it rests on, in words.
    pub basis: String,
}

/// What a house has learnt of one species, as of any day.
#[derive(Debug, Clone)]
pub struct Learned(Kinds);

/// What is believed of a species at a life stage on a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KindBelief {
    /// The belief.
    pub belief: Belief,
    /// How many intervals of the house are in it.
    pub house: usize,
    /// The usual days that it began with (least, most).
    pub usual: (u32, u32),
}

impl KindBelief {
    /// The window of the next moult of those that moulted on a day and have not since.
    ///
    /// # Errors
    /// Beliefs so vague that their window has no end.
    pub fn window(&self, moulted_on: NaiveDate, today: NaiveDate) -> Result<DayWindow, BeliefError> {
        Ok(DayWindow::after(moulted_on, &self.belief.window(days_since(moulted_on, today))?))
    }
}

impl Learned {
    /// What a house learns of one species from its usual ranges and the histories of its animals.
    ///
    /// # Errors
    /// Usual ranges that are none.
    pub fn new(usual: &UsualRanges, histories: &[History]) -> Result<Self, LearnError> {
        Ok(Self(Kinds::new(usual, histories).map_err(|(stage, error)| LearnError::of(stage, error))?))
    }

    /// What is believed of the species at a life stage on a day, from all of the house; nothing when the stage has no
    /// usual range.
    #[must_use]
    pub fn kind(&self, stage: LifeStage, day: NaiveDate) -> Option<KindBelief> {
        self.kind_without(Sums::default(), stage, day)
    }

    /// When the next moult of an animal is to be expected, as of a day on which it has not moulted since the last one
    /// in its history. What was written down after that day is left out.
    ///
    /// # Errors
    /// Histories without a moult on that day; a life stage without a usual range.
    pub fn forecast(&self, history: &History, today: NaiveDate) -> Result<MoultForecast, LearnError> {
        let last = history.last_known(today).ok_or(LearnError::NoMoult)?;
        let own = self.own(history);
        let personal = self.personal(&own, last.stage, today)?;
        let forecast = personal.belief.forecast(days_since(last.on, today)).map_err(|error| LearnError::of(last.stage, error))?;
        let DayWindow { from, likely, to } = DayWindow::after(last.on, &forecast.conditional);
        let house = personal.kind.house;
        Ok(MoultForecast {
            from,
            likely,
            to,
            at_moult: self.window_at(&own, last, last.known_on())?,
            probability_within_7_days: forecast.probability_within_7_days,
            own: personal.own,
            house,
            prior_weight: RANGE_WEIGHT / (RANGE_WEIGHT + house as f64),
            own_weight: personal.weight,
            basis: basis(personal.own, &personal.kind, last.stage),
        })
    }

    /// The window of the next moult as it was told on a day on which `last` was the last one known.
    pub(super) fn window_at(&self, own: &Own, last: &Moult, day: NaiveDate) -> Result<DayWindow, LearnError> {
        let belief = self.personal(own, last.stage, day)?.belief;
        let window = belief.window(days_since(last.on, day)).map_err(|error| LearnError::of(last.stage, error))?;
        Ok(DayWindow::after(last.on, &window))
    }

    /// The sums of one animal's own intervals.
    pub(super) fn own(&self, history: &History) -> Own {
        let mut stages: BTreeMap<LifeStage, (Vec<Counting>, Vec<Counting>)> = BTreeMap::new();
        for interval in history.intervals() {
            if let Some(kind) = self.0.get(interval.stage) {
                let counting = Counting { value: kind.value(&interval), from: interval.known_from, until: interval.known_until };
                stages.entry(interval.stage).or_default().0.push(counting);
            }
        }
        for (stage, counted) in self.0.counted(history) {
            stages.entry(stage).or_default().1.extend(counted);
        }
        Own(stages.into_iter().map(|(stage, (shown, counted))| (stage, (Running::new(&shown), Running::new(&counted)))).collect())
    }

    /// What is believed of one animal at a life stage on a day.
    fn personal(&self, own: &Own, stage: LifeStage, day: NaiveDate) -> Result<Personal, LearnError> {
        let kind = self.kind_without(own.counted(stage, day), stage, day).ok_or(LearnError::NoRange(stage))?;
        let mut sums = Sums::default();
        for (&of, (shown, counted)) in &own.0 {
            if let Some((believed, kept)) = self.kind_without(counted.on(day), of, day).zip(self.0.get(of)) {
                // The sums are less the usual mean of their stage. Less the believed mean of their stage they are the
                // same as scaled to this stage and less the believed mean of this one.
                sums = sums.plus(shown.on(day).moved(kept.prior.mean - believed.belief.mean));
            }
        }
        let weight = self.0.own_weight(day);
        Ok(Personal { belief: personal_belief(kind.belief, weight, sums), kind, own: whole(sums.count), weight })
    }

    fn kind_without(&self, own: Sums, stage: LifeStage, day: NaiveDate) -> Option<KindBelief> {
        let kind = self.0.get(stage)?;
        let sums = kind.house_without(own, day);
        Some(KindBelief { belief: kind.prior.updated_by(sums), house: whole(sums.count), usual: kind.usual })
    }
}

/// One animal's own sums by life stage: those of the intervals it has shown, and of those that count for the house.
#[derive(Debug, Clone)]
pub(super) struct Own(BTreeMap<LifeStage, (Running, Running)>);

impl Own {
    fn counted(&self, stage: LifeStage, day: NaiveDate) -> Sums {
        self.0.get(&stage).map_or_else(Sums::default, |(_, counted)| counted.on(day))
    }
}

/// What is believed of one animal, and what from.
struct Personal {
    belief: Belief,
    kind: KindBelief,
    own: usize,
    weight: f64,
}

/// The belief of one animal from that of its kind and its own ln(days) less the kind's mean. `weight` is the variance
/// within an animal over that between animals; the kind's mean itself is only known to as many intervals as its
/// `kappa`, and the two uncertainties add. With nothing of its own the belief is that of its kind: `beta` is chosen so
/// that the next interval is forecast alike although the mean counts as fewer intervals.
fn personal_belief(kind: Belief, weight: f64, own: Sums) -> Belief {
    if own.count < 0.5 {
        return kind;
    }
    let kappa = 1.0 / (1.0 / weight + 1.0 / kind.kappa);
    let start = Belief { mean: kind.mean, kappa, alpha: kind.alpha.min(MOST_KIND_ALPHA), beta: 1.0 };
    start.with_scale(kind.scale()).updated_by(own)
}

impl DayWindow {
    /// Whole days: the first and last that lie within the window, so that it holds as many moults as it says. A window of
    /// less than a day is the day after its beginning.
    fn after(last: NaiveDate, window: &Window) -> Self {
        let on = |days: f64| days_after(last, days as u32);
        let from = on(window.p10_days.ceil());
        let to = on(window.p90_days.floor()).max(from);
        Self { from, likely: on(window.median_days.round()).clamp(from, to), to }
    }
}

fn days_since(last: NaiveDate, day: NaiveDate) -> f64 {
    (days_between(last, day).max(0) as f64).min(MOST_DAYS)
}

/// A count that was summed as a float.
fn whole(count: f64) -> usize {
    count.max(0.0).round() as usize
}

fn basis(own: usize, kind: &KindBelief, stage: LifeStage) -> String {
    let article = if stage == LifeStage::Adult { "an" } else { "a" };
    let (least, most) = kind.usual;
    let usual = if least == most { format!("the usual {least} days") } else { format!("the usual {least} to {most} days") };
    let own = match own {
        0 => None,
        1 => Some("1 of its own intervals".to_owned()),
        count => Some(format!("{count} of its own intervals")),
    };
    let house = match kind.house {
        0 => None,
        count => Some(format!("{count} of others of its species as {article} {stage} here")),
    };
    match (own, house) {
        (None, None) => format!("from {usual}"),
        (Some(own), None) => format!("from {own} and {usual}"),
        (None, Some(house)) => format!("from {house} and {usual}"),
        (Some(own), Some(house)) => format!("from {own}, {house}, and {usual}"),
    }
}
