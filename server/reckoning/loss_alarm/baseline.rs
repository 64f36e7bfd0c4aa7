//! How many losses are usual: a rate learnt from cohorts of the same species and stage, drawn towards common practice
//! while few losses have been seen.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::days::{Series, Tally, days_before};
use crate::reckoning::rates::{MOST_COUNTED, RateError, negative_binomial_upper_tail};
use crate::reckoning::stage::Stage;

/// Common practice weighs as much as this many losses seen.
pub const PRIOR_LOSSES: f64 = 5.0;
/// However many losses have been seen, the baseline is held no surer than this many make it: cohorts of one species
/// differ, by about a fifth (1 ÷ √25).
pub const MOST_WEIGHT: f64 = 25.0;
/// A cohort's own last days are left out of its baseline, so that a cohort that is dying is not its own measure.
pub const OWN_DAYS_LEFT_OUT: u32 = 28;
/// The normal deviate that is passed one time in ten.
const UPPER_Z: f64 = 1.281_551_565_544_6;

/// The usual losses per spiderling-day at a stage, before any of the house's own have been seen: −ln(survival) ÷ days,
/// each from the middle of the range that common practice gives (no source), but for the last.
pub fn usual_rate(stage: Stage) -> f64 {
    match stage {
        // 60 to 95 % reach the post-embryo in about 30 days: −ln 0.775 ÷ 30.
        Stage::Egg => 0.008_496,
        // 90 to 98 % reach the first instar in about 20 days: −ln 0.94 ÷ 20.
        Stage::PostEmbryo => 0.003_094,
        // 90 to 98 % reach the second instar in about 25 days: −ln 0.94 ÷ 25.
        Stage::Instar(0 | 1) => 0.002_475,
        // 80 to 95 % live through the first 90 days as second instar: −ln 0.875 ÷ 90.
        Stage::Instar(2) => 0.001_484,
        // No figure from there to about 4 cm: between its neighbours, √(0.001484 × 0.00031).
        Stage::Instar(3..=6) => 0.000_678,
        // 10.7 % a year in captive Grammostola vachoni (Zool. Anz. 293: 37-45, 2021): −ln 0.893 ÷ 365.25. Common practice
        // has 85 to 95 % from about 4 cm to adult, which takes a year or more: −ln 0.90 ÷ 365.25 = 0.00029 at most.
        Stage::Instar(_) => 0.000_310,
    }
}

/// The usual rate of losses of a species at a stage.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Baseline {
    /// Losses per spiderling-day: (prior losses + losses seen) ÷ (prior losses ÷ prior rate + exposure seen).
    pub rate: f64,
    /// How sure the rate is, as the number of losses that would make it so.
    pub weight: f64,
    /// The rate of common practice that it is drawn towards.
    pub prior_rate: f64,
    /// What was seen.
    pub seen: Tally,
}

/// What one cohort is held against: the other cohorts of its species at the stage, and its own days but the last
/// [`OWN_DAYS_LEFT_OUT`].
pub fn seen_before(own: &Series, others: Tally, today: NaiveDate) -> Tally {
    own.tally(NaiveDate::MIN, days_before(today, OWN_DAYS_LEFT_OUT)).and(others)
}

impl Baseline {
    /// The rate from what was seen of a species at a stage, drawn towards the usual one.
    pub fn new(stage: Stage, seen: Tally) -> Self {
        Self::drawn(usual_rate(stage), seen)
    }

    /// The rate from what was seen, drawn towards a species' own usual rate in losses per spiderling-day.
    ///
    /// # Errors
    /// A rate that is not above 0 and at most 1.
    pub fn with_usual(prior_rate: f64, seen: Tally) -> Result<Self, RateError> {
        if prior_rate > 0.0 && prior_rate <= 1.0 && (PRIOR_LOSSES / prior_rate).is_finite() {
            Ok(Self::drawn(prior_rate, seen))
        } else {
            Err(RateError::Probability)
        }
    }

    fn drawn(prior_rate: f64, seen: Tally) -> Self {
        let losses = PRIOR_LOSSES + seen.lost as f64;
        let rate = losses / (PRIOR_LOSSES / prior_rate + seen.exposure as f64);
        Self { rate, weight: losses.min(MOST_WEIGHT), prior_rate, seen }
    }

    /// How many are usual in an exposure of so many spiderling-days.
    pub fn usual(&self, exposure: u64) -> Usual {
        Usual { mean: self.rate * exposure as f64, weight: self.weight }
    }

    /// A rate that the true one is above only one time in ten, as far as the baseline tells (gamma distribution, by the
    /// approximation of Wilson & Hilferty, Proc. Natl Acad. Sci. 17: 684-688, 1931).
    pub fn upper_rate(&self) -> f64 {
        let ninth = 1.0 / (9.0 * self.weight);
        self.rate * (1.0 - ninth + UPPER_Z * ninth.sqrt()).powi(3)
    }

    /// What it rests on, in a line.
    pub fn words(&self) -> String {
        let Tally { lost, exposure, .. } = self.seen;
        format!(
            "usual: {:.3} % a day, from {lost} lost in {exposure} spiderling-days of this species at this stage, \
             with common practice ({:.3} % a day) counted as {PRIOR_LOSSES} losses",
            self.rate * 100.0,
            self.prior_rate * 100.0
        )
    }
}

/// How many losses are usual, and how sure that is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Usual {
    /// The number expected.
    pub mean: f64,
    /// How sure it is, as the number of losses that would make it so.
    pub weight: f64,
}

impl Usual {
    /// None expected, of none.
    pub const NONE: Self = Self { mean: 0.0, weight: MOST_WEIGHT };

    /// Two together. Their errors are taken to go the same way, as cohorts often share a baseline: standard errors add.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        let mean = self.mean + other.mean;
        let error = self.mean / self.weight.sqrt() + other.mean / other.weight.sqrt();
        if error > 0.0 { Self { mean, weight: (mean / error).powi(2) } } else { Self { mean, ..self } }
    }

    /// The chance of at least so many, with the rate as uncertain as it is: the negative binomial, which is the Poisson
    /// distribution averaged over a gamma distribution of the rate. With few losses behind the rate the chance is
    /// larger than the Poisson one, so that a wrong guess of common practice does not alarm.
    pub fn chance(self, lost: u64) -> f64 {
        if lost == 0 {
            return 1.0;
        }
        // Refused only if none are expected, or more than the tail counts.
        let otherwise = if self.mean == 0.0 { 0.0 } else { 1.0 };
        negative_binomial_upper_tail(lost.min(MOST_COUNTED), self.mean, self.weight).unwrap_or(otherwise)
    }
}
