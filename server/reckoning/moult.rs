//! Moults: how long to fast after one, when the next is usual, and how long a sale must wait.
//! All figures are common practice, no source, unless a care profile gives its own.
//!
//! What a house learns beyond them: [`belief`] forecasts an interval, [`learn`] brings together what is usual, what the
//! house has seen and what the animal itself has done, and [`calibration`] looks back at how honest the forecasts were.

pub mod belief;
pub mod calibration;
pub mod history;
pub mod learn;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::calendar::days_after;
use super::words::{LifeStage, Pace};

/// The post-moult fast: days after the moult.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fast {
    /// Food may be offered from this day, if the fangs are black.
    pub min_days: u32,
    /// The house offers food from this day.
    pub max_days: u32,
}

/// The post-moult fast by leg span (DLS, mm); each class includes its lower bound.
pub fn fast_by_span(span_mm: u32) -> Fast {
    let (min_days, max_days) = match span_mm {
        0..15 => (3, 5),
        15..40 => (5, 7),
        40..80 => (7, 10),
        80..120 => (10, 14),
        _ => (14, 21),
    };
    Fast { min_days, max_days }
}

/// The post-moult fast of an animal; without a leg span, that of the largest usual one of its life stage, so that
/// nothing is fed too soon.
pub fn fast_of(span_mm: Option<u32>, life_stage: LifeStage) -> Fast {
    fast_by_span(span_mm.unwrap_or(match life_stage {
        LifeStage::Spiderling => 39,
        LifeStage::Juvenile => 79,
        LifeStage::Adult => 120,
    }))
}

/// The first days on which food may be offered after a moult: earliest, and as the house does it.
pub fn feed_from(moulted_on: NaiveDate, fast: Fast) -> (NaiveDate, NaiveDate) {
    (days_after(moulted_on, fast.min_days), days_after(moulted_on, fast.max_days))
}

/// The first day on which a sale is not held by a moult. One meal must have been accepted since as well.
pub fn sale_from(moulted_on: NaiveDate, fast: Fast) -> NaiveDate {
    days_after(moulted_on, fast.max_days)
}

/// The usual days from one moult to the next (least, most), by pace of growth and leg span (DLS, mm); for use where
/// a care profile gives none. An adult female, or anything of 120 mm and over, moults at the adult interval.
pub fn usual_interval(pace: Pace, span_mm: u32, adult_female: bool) -> (u32, u32) {
    let [fast, medium, slow] = match span_mm {
        _ if adult_female => [(240, 400), (300, 500), (365, 900)],
        0..10 => [(14, 30), (20, 45), (30, 60)],
        10..25 => [(25, 45), (35, 70), (50, 100)],
        25..50 => [(40, 75), (60, 120), (90, 200)],
        50..80 => [(60, 120), (100, 180), (150, 330)],
        80..120 => [(100, 200), (150, 300), (240, 450)],
        _ => [(240, 400), (300, 500), (365, 900)],
    };
    match pace {
        Pace::Fast => fast,
        Pace::Medium => medium,
        Pace::Slow => slow,
    }
}

/// When the next moult is usual.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct MoultWindow {
    /// The first usual day.
    pub from: NaiveDate,
    /// The last usual day.
    pub to: NaiveDate,
    /// After this day have a look at the animal: 1.5 × the longest usual interval has passed. Not an alarm.
    pub look_after: NaiveDate,
}

/// The window of the next moult from the last one and an interval in days (least, most).
pub fn window(last_moult: NaiveDate, interval: (u32, u32)) -> MoultWindow {
    let (least, most) = interval;
    MoultWindow {
        from: days_after(last_moult, least),
        to: days_after(last_moult, most),
        look_after: days_after(last_moult, most.saturating_add(most / 2)),
    }
}
