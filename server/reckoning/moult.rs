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

/// One class of the post-moult fast: from this leg span on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FastClass {
    /// The least leg span of the class (DLS, mm).
    pub from_mm: u32,
    /// Food may be offered from this many days after the moult, if the fangs are black.
    pub min_days: u32,
    /// The house offers food from this many days after the moult.
    pub max_days: u32,
}

/// The classes where a care profile gives none.
pub const USUAL_FASTS: [FastClass; 5] = [
    FastClass { from_mm: 0, min_days: 3, max_days: 5 },
    FastClass { from_mm: 15, min_days: 5, max_days: 7 },
    FastClass { from_mm: 40, min_days: 7, max_days: 10 },
    FastClass { from_mm: 80, min_days: 10, max_days: 14 },
    FastClass { from_mm: 120, min_days: 14, max_days: 21 },
];

/// The post-moult fast by leg span (DLS, mm) in classes that each include their lower bound; the usual ones where none
/// are given. A span below the first bound is in the first class.
pub fn fast_in(classes: &[FastClass], span_mm: u32) -> Fast {
    let classes = if classes.is_empty() { &USUAL_FASTS } else { classes };
    let class = classes.iter().filter(|class| class.from_mm <= span_mm).max_by_key(|class| class.from_mm);
    let class = class.or_else(|| classes.iter().min_by_key(|class| class.from_mm));
    class.map_or(Fast { min_days: 0, max_days: 0 }, |class| Fast { min_days: class.min_days, max_days: class.max_days })
}

/// The usual post-moult fast by leg span (DLS, mm).
pub fn fast_by_span(span_mm: u32) -> Fast {
    fast_in(&USUAL_FASTS, span_mm)
}

/// The usual post-moult fast of an animal; without a leg span, that of the largest usual one of its life stage, so that
/// nothing is fed too soon.
pub fn fast_of(span_mm: Option<u32>, life_stage: LifeStage) -> Fast {
    fast_by_span(span_or_largest(span_mm, life_stage))
}

/// A leg span, or without one the largest usual one of a life stage (mm).
pub fn span_or_largest(span_mm: Option<u32>, life_stage: LifeStage) -> u32 {
    span_mm.unwrap_or(match life_stage {
        LifeStage::Spiderling => 39,
        LifeStage::Juvenile => 79,
        LifeStage::Adult => 120,
    })
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
