//! When a sac is to be expected after a pairing, and when its stages after laying: from the usual range of the trade to what
//! this house has seen.
//!
//! The logarithm of the days is normal with unknown mean and variance and a Normal-Inverse-Gamma belief, as for moults
//! ([`Belief`]; Murphy 2007, Conjugate Bayesian analysis of the Gaussian distribution; Gelman et al., Bayesian Data Analysis,
//! section 3.3, section number from memory).
//!
//! 1. The usual range is taken as the middle 80 % of what the next sac does, and counts as [`RANGE_WEIGHT`] sacs. It is that
//!    of many houses, so it already holds the doubt about where this house lies, and is not widened by it: before the house
//!    has a sac of its own the forecast is the range itself.
//! 2. The house's own finished sacs of the species update it, each as one.
//! 3. Those of other species of its breeding group do so too, each as [`GROUP_WEIGHT`] of one, as their logarithm less the
//!    middle of their own species' range (a power prior: Ibrahim & Chen 2000, Statistical Science 15: 46-60, from memory).
//!
//! Pairs that never had a sac are left out, so the days to a sac say when one comes, if one comes.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::reckoning::calendar::days_after;
use crate::reckoning::moult::belief::{Belief, BeliefError, MOST_DAYS, RANGE_ALPHA, Sums};
use crate::reckoning::student::Student;

/// As how many sacs a usual range counts (common practice, no source).
pub const RANGE_WEIGHT: f64 = 2.0;
/// As how much of a sac one of another species of the group counts (common practice, no source).
pub const GROUP_WEIGHT: f64 = 0.5;
/// The least spread of a usual range, in logarithms of days (common practice, no source).
const LEAST_SPREAD: f64 = 0.05;

/// Why nothing was forecast.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SacForecastError {
    /// A usual range that is none.
    #[error(transparent)]
    Range(BeliefError),
    /// Days of a sac that are none.
    #[error("it is {given} days: give a number above 0 and at most 1000000")]
    Own {
        /// Its place in the list, from 0.
        index: usize,
        /// What was given.
        given: f64,
    },
    /// A sac of the group that is none.
    #[error("it is {given} days of a usual {least} to {most}: give days above 0 and a range that begins before it ends")]
    Group {
        /// Its place in the list, from 0.
        index: usize,
        /// What was given.
        given: f64,
        /// Fewest usual days.
        least: u32,
        /// Most usual days.
        most: u32,
    },
}

/// A finished sac of another species of the breeding group.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfGroup {
    /// The days it took.
    pub days: f64,
    /// The usual days of its own species, first and last.
    pub usual: (u32, u32),
}

/// When it is to be expected, in days, and what that rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SacForecast {
    /// One in ten comes earlier, days.
    pub p10_days: f64,
    /// Half come earlier, days.
    pub median_days: f64,
    /// Nine in ten come earlier, days.
    pub p90_days: f64,
    /// The belief of ln(days) behind it.
    pub belief: Belief,
    /// The usual days that it began from.
    pub usual: (u32, u32),
    /// How many finished sacs of the species it rests on.
    pub own: usize,
    /// How many of other species of the group.
    pub group: usize,
    /// What share of the middle is the house's own sacs', 0 to 1.
    pub own_weight: f64,
    /// What share is that of the group, 0 to 1.
    pub group_weight: f64,
    /// What share is that of the usual range, 0 to 1.
    pub range_weight: f64,
    /// The same in words.
    pub basis: String,
}

/// The belief that a usual range of days stands for: the middle 80 % of the next ln(days), which follows Student's t, is the
/// range.
///
/// # Errors
/// Ranges from 0 days, too long ones, and those that end before they begin.
pub fn usual_belief((least, most): (u32, u32)) -> Result<Belief, SacForecastError> {
    if least == 0 || least > most || f64::from(most) > MOST_DAYS {
        return Err(SacForecastError::Range(BeliefError::UsualRange { least, most }));
    }
    let (low, high) = (f64::from(least).ln(), f64::from(most).ln());
    let scale = (0.5 * (high - low) / Student::new(2.0 * RANGE_ALPHA).point_above(0.1)).max(LEAST_SPREAD);
    Ok(Belief { mean: 0.5 * (low + high), kappa: RANGE_WEIGHT, alpha: RANGE_ALPHA, beta: 1.0 }.with_scale(scale))
}

/// When the next one is to be expected: days from pairing to sac, or from laying to a stage.
///
/// # Errors
/// Ranges and days that are none; each names its place.
pub fn forecast(usual: (u32, u32), own_days: &[f64], group: &[OfGroup]) -> Result<SacForecast, SacForecastError> {
    let prior = usual_belief(usual)?;
    let belief = prior.updated_by(sums_of(&prior, own_days)?.plus(sums_of_group(group)?));
    let spread = belief.student().point_above(0.1) * belief.scale();
    let (own, others) = (own_days.len() as f64, GROUP_WEIGHT * group.len() as f64);
    let share = |count: f64| count / belief.kappa;
    let (own_weight, group_weight, range_weight) = (share(own), share(others), share(prior.kappa));
    Ok(SacForecast {
        p10_days: (belief.mean - spread).exp(),
        median_days: belief.mean.exp(),
        p90_days: (belief.mean + spread).exp(),
        belief,
        usual,
        own: own_days.len(),
        group: group.len(),
        own_weight,
        group_weight,
        range_weight,
        basis: basis(usual, (own_days.len(), own_weight), (group.len(), group_weight), range_weight),
    })
}

fn sums_of(prior: &Belief, own_days: &[f64]) -> Result<Sums, SacForecastError> {
    let mut sums = Sums::default();
    for (index, &days) in own_days.iter().enumerate() {
        if !(days > 0.0 && days <= MOST_DAYS) {
            return Err(SacForecastError::Own { index, given: days });
        }
        sums = sums.and(1.0, days.ln() - prior.mean);
    }
    Ok(sums)
}

fn sums_of_group(group: &[OfGroup]) -> Result<Sums, SacForecastError> {
    let mut sums = Sums::default();
    for (index, one) in group.iter().enumerate() {
        let (least, most) = one.usual;
        if !(one.days > 0.0 && one.days <= MOST_DAYS) || least == 0 || least > most {
            return Err(SacForecastError::Group { index, given: one.days, least, most });
        }
        let value = one.days.ln() - 0.5 * (f64::from(least).ln() + f64::from(most).ln());
        let whole = Sums::default().and(1.0, value);
        let part = Sums { count: GROUP_WEIGHT * whole.count, sum: GROUP_WEIGHT * whole.sum, squares: GROUP_WEIGHT * whole.squares };
        sums = sums.plus(part);
    }
    Ok(sums)
}

fn basis((least, most): (u32, u32), own: (usize, f64), group: (usize, f64), range: f64) -> String {
    let usual = format!("the usual {least} to {most} days (common practice, no source)");
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let sacs = |count: usize| if count == 1 { "1 own sac".to_owned() } else { format!("{count} own sacs") };
    let mut told = Vec::new();
    if own.0 > 0 {
        told.push(format!("{} of the species: {}", sacs(own.0), percent(own.1)));
    }
    if group.0 > 0 {
        told.push(format!("{} of its breeding group: {}", sacs(group.0), percent(group.1)));
    }
    if told.is_empty() {
        return format!("{usual}; no finished sac of our own yet");
    }
    told.push(format!("{usual}: {}", percent(range)));
    format!("weight of {}", told.join("; of "))
}

/// A forecast as days of the calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct SacWindow {
    /// One in ten comes before it.
    pub from: NaiveDate,
    /// The middle.
    pub likely: NaiveDate,
    /// One in ten comes after it.
    pub to: NaiveDate,
}

impl SacForecast {
    /// The days of the window, counted from a day, each to the nearest whole day.
    #[must_use]
    pub fn window(&self, since: NaiveDate) -> SacWindow {
        let on = |days: f64| days_after(since, days.round().max(0.0) as u32);
        SacWindow { from: on(self.p10_days), likely: on(self.median_days), to: on(self.p90_days) }
    }
}
