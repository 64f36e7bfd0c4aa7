//! A small rise that lasts: the cumulative sum of a cohort's losses beyond the usual.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use serde::Serialize;

use super::cusum::{average_run_length, step};
use super::days::{after, days_before};
use super::window::few;
use super::{Stratum, Watched};
use crate::reckoning::calendar::{days_between, written};

/// The rise that the sum is built to find: three times the usual.
pub const RISE: f64 = 3.0;
/// In a cohort that is in order one false signal is expected in at least so many days: 40 years.
pub const DAYS_TO_FALSE_SIGNAL: f64 = 14_610.0;
/// The lowest threshold, in losses.
pub const LEAST_THRESHOLD: f64 = 3.0;
/// For a rise to three times, a sum in order passes a threshold h after about 1.5 × 3^h expected losses, or more: the
/// run lengths of the Markov chain come to 1.5 to 1.8 where few are expected a day, and to more where many are.
const LOSSES_TO_PASS: f64 = 1.5;

/// The cumulative sum of a cohort.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drift {
    /// Losses beyond the reference, added up: max(0, before + lost − 1.82 × usual).
    pub sum: f64,
    /// The sum above which it signals.
    pub threshold: f64,
    /// The losses that are usual a day now, with the rate taken at its upper end (passed one time in ten).
    pub usual_a_day: f64,
    /// The first day after the sum last was zero.
    pub since: Option<NaiveDate>,
    /// How many died since then.
    pub lost: u64,
    /// How many are usual since then.
    pub usual: f64,
}

/// What the days of one step add up to.
#[derive(Clone, Copy, Default)]
struct Step {
    lost: u64,
    usual: f64,
    upper: f64,
}

/// How many are taken off for each usual loss: (3 − 1) ÷ ln 3 (Lucas 1985).
fn reference() -> f64 {
    (RISE - 1.0) / RISE.ln()
}

/// The sum that a cohort in order passes once in [`DAYS_TO_FALSE_SIGNAL`], or more seldom, with so many usual a day.
fn threshold(usual_a_day: f64) -> f64 {
    ((DAYS_TO_FALSE_SIGNAL * usual_a_day / LOSSES_TO_PASS).ln() / RISE.ln()).max(LEAST_THRESHOLD)
}

impl Drift {
    /// The sum from the first day, or from the day after it was last looked into, to today. It takes a step at each look,
    /// so that losses found together are held against all the days on which they may have died.
    pub(super) fn of(watched: &Watched<'_>, looks: &[NaiveDate], today: NaiveDate) -> Self {
        let begin = watched.begin(today);
        let mut drift = Self { sum: 0.0, threshold: 0.0, usual_a_day: 0.0, since: None, lost: 0, usual: 0.0 };
        let ends = ends_of_steps(watched, looks, begin, today);
        let mut steps = vec![Step::default(); ends.len()];
        for Stratum { days, baseline, .. } in watched.strata {
            let upper = baseline.upper_rate();
            for (step, tally) in steps.iter_mut().zip(days.tallies(begin, &ends)) {
                step.lost += tally.lost;
                step.usual += baseline.rate * tally.exposure as f64;
                step.upper += upper * tally.exposure as f64;
            }
        }
        let mut from = begin;
        for (end, step) in ends.iter().zip(steps) {
            drift.take(step, from);
            from = after(*end);
        }
        let month = days_before(today, 27).max(begin);
        let days = days_between(month, today) + 1;
        if days > 0 {
            let upper = |Stratum { days, baseline, .. }: &Stratum| baseline.upper_rate() * days.tally(month, today).exposure as f64;
            drift.usual_a_day = watched.strata.iter().map(upper).sum::<f64>() / days as f64;
        }
        drift.threshold = threshold(drift.usual_a_day);
        drift
    }

    fn take(&mut self, of: Step, from: NaiveDate) {
        self.sum = step(self.sum, of.lost as f64, reference() * of.upper);
        if self.sum == 0.0 {
            (self.since, self.lost, self.usual) = (None, 0, 0.0);
        } else {
            self.since = self.since.or(Some(from));
            self.lost += of.lost;
            self.usual += of.usual;
        }
    }

    /// Whether the sum is above its threshold.
    pub fn signals(&self) -> bool {
        self.sum > self.threshold
    }

    /// The years until a cohort of this size that is in order signals, at the least; nothing when none are usual.
    pub fn years_to_false_signal(&self) -> Option<f64> {
        (self.usual_a_day > 0.0).then(|| LOSSES_TO_PASS * RISE.powf(self.threshold) / self.usual_a_day / 365.25)
    }

    /// The days until a cohort of this size that is in order signals, on average, by the Markov chain; nothing where that
    /// is beyond what is reckoned. It takes some milliseconds.
    pub fn days_to_false_signal(&self) -> Option<f64> {
        let days = average_run_length(self.usual_a_day, reference() * self.usual_a_day, self.threshold).ok()?;
        days.is_finite().then_some(days)
    }

    /// In a sentence: “14 lost since 3 March 2026, where 6.2 are usual”.
    pub fn words(&self) -> String {
        match self.since {
            Some(since) => format!("{} lost since {}, where {} are usual", self.lost, written(since), few(self.usual)),
            None => "losses do not add up beyond the usual".to_owned(),
        }
    }
}

/// The last days of the steps. Without a list of looks every day is one; then days on which nobody died are taken
/// together, which comes to the same, as the sum only falls on them.
fn ends_of_steps(watched: &Watched<'_>, looks: &[NaiveDate], begin: NaiveDate, today: NaiveDate) -> Vec<NaiveDate> {
    let within = |day: &NaiveDate| (begin..=today).contains(day);
    if !looks.is_empty() {
        return looks.iter().copied().filter(within).collect();
    }
    let listed = watched.strata.iter().flat_map(|stratum| stratum.days.within(begin, today)).filter(|day| day.lost > 0);
    let ends = listed.flat_map(|day| [Some(day.day), day.day.pred_opt()]).flatten().chain([today]).filter(within);
    ends.collect::<BTreeSet<NaiveDate>>().into_iter().collect()
}
