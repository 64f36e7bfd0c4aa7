//! How honest past forecasts of moults were, reckoned again from the log.
//!
//! Each moult begins a forecast: that of the day on which it was written down, from what had been written down by then.
//! It is judged once its 80 % window has closed, whatever came of it, so that neither early nor late moults are
//! favoured; and only if the next moult had not come by the day on which it was made. An animal that had not moulted
//! when the window closed counts as late. A window that closed only after the animal had died or left is not judged,
//! also when it had moulted before: to count those alone would favour early moults.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::history::{History, Moult};
use super::learn::{LearnError, Learned, Own, UsualRanges};
use crate::reckoning::rates::wilson;

/// The animals of one species, those that left included.
#[derive(Debug, Clone)]
pub struct SpeciesLog {
    /// What the species is called.
    pub species: String,
    /// The usual days between moults by life stage.
    pub usual: UsualRanges,
    /// The moults of each animal.
    pub histories: Vec<History>,
}

/// A share with its 95 % interval (Wilson 1927).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// The share (0 to 1).
    pub value: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
}

/// What became of past forecasts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Outcomes {
    /// Moults on a day of the window.
    pub inside: usize,
    /// Moults before it.
    pub early: usize,
    /// Moults after it, or none so far.
    pub late: usize,
    /// Windows that have not closed yet.
    pub open: usize,
    /// Windows that closed after the animal had died or left.
    pub left: usize,
}

impl Outcomes {
    /// The forecasts that are judged.
    #[must_use]
    pub fn closed(&self) -> usize {
        self.inside + self.early + self.late
    }

    /// The share of the judged ones that held; nothing when there are none.
    #[must_use]
    pub fn share(&self) -> Option<Share> {
        let limits = wilson(self.inside as u64, self.closed() as u64, 0.95).ok()?;
        Some(Share { value: limits.estimate, low: limits.lower, high: limits.upper })
    }

    /// The figures in a sentence.
    #[must_use]
    pub fn told(&self) -> String {
        let Some(share) = self.share() else {
            return format!("no forecast can be judged yet; {} still open", self.open);
        };
        let percent = |share: f64| format!("{:.0}", 100.0 * share);
        format!(
            "{} of {} windows of 80 % held ({} %, 95 % interval {} to {} %); {} moults came early, {} late or not yet; {} windows still open",
            self.inside,
            self.closed(),
            percent(share.value),
            percent(share.low),
            percent(share.high),
            self.early,
            self.late,
            self.open
        )
    }

    fn plus(self, other: Self) -> Self {
        Self {
            inside: self.inside + other.inside,
            early: self.early + other.early,
            late: self.late + other.late,
            open: self.open + other.open,
            left: self.left + other.left,
        }
    }
}

/// How honest past forecasts were.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Calibration {
    /// Each species with what became of its forecasts, in the order given.
    pub species: Vec<(String, Outcomes)>,
    /// All of them together.
    pub total: Outcomes,
}

/// Why the forecasts of a species could not be judged.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{species}: {error}")]
pub struct CalibrationError {
    /// Which species.
    pub species: String,
    /// Why not.
    pub error: LearnError,
}

/// How honest the forecasts of all moults in the log were, as of a day. What was written down after it is left out.
///
/// # Errors
/// Usual ranges that are none, and life stages without one.
pub fn calibrate(logs: &[SpeciesLog], today: NaiveDate) -> Result<Calibration, CalibrationError> {
    let mut calibration = Calibration::default();
    for log in logs {
        let outcomes = judge_all(log, today).map_err(|error| CalibrationError { species: log.species.clone(), error })?;
        calibration.total = calibration.total.plus(outcomes);
        calibration.species.push((log.species.clone(), outcomes));
    }
    Ok(calibration)
}

fn judge_all(log: &SpeciesLog, today: NaiveDate) -> Result<Outcomes, LearnError> {
    let learned = Learned::new(&log.usual, &log.histories)?;
    let mut outcomes = Outcomes::default();
    for history in &log.histories {
        judge(&learned, history, today, &mut outcomes)?;
    }
    Ok(outcomes)
}

fn judge(learned: &Learned, history: &History, today: NaiveDate, outcomes: &mut Outcomes) -> Result<(), LearnError> {
    let own = learned.own(history);
    let known: Vec<&Moult> = history.moults().iter().filter(|moult| moult.known_on() <= today).collect();
    let nexts = known.iter().skip(1).map(|moult| Some(moult.on)).chain([None]);
    for (moult, next) in known.iter().zip(nexts) {
        // Made when the next one had come already, it was no forecast.
        if next.is_none_or(|next| next > moult.known_on()) {
            judge_one(learned, &own, moult, Ended { next, left_on: history.left_on(), today }, outcomes)?;
        }
    }
    Ok(())
}

/// How an interval went on after its first moult.
struct Ended {
    next: Option<NaiveDate>,
    left_on: Option<NaiveDate>,
    today: NaiveDate,
}

fn judge_one(learned: &Learned, own: &Own, moult: &Moult, ended: Ended, outcomes: &mut Outcomes) -> Result<(), LearnError> {
    let window = learned.window_at(own, moult, moult.known_on())?;
    let count = if ended.left_on.is_some_and(|left| left < window.to) {
        &mut outcomes.left
    } else if window.to >= ended.today {
        &mut outcomes.open
    } else {
        match ended.next {
            Some(next) if next < window.from => &mut outcomes.early,
            Some(next) if next <= window.to => &mut outcomes.inside,
            _ => &mut outcomes.late,
        }
    };
    *count += 1;
    Ok(())
}
