//! How warm a sac was kept: what its log says against what is usual, and the warmth it has had in all.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{ANY_DAYS_TO_SAC, SacGroup};
use crate::reckoning::calendar::days_between;
use crate::reckoning::climate::degree_days::{DayRange, DegreeDayError, Method, degree_days};

/// How a species' sacs are paired for and incubated, where its care profile says; else as is usual. All figures are common
/// practice, no source.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct IncubationRules {
    /// Days from pairing to sac, first and last; those of the breeding group without it.
    pub sac_after: Option<(u32, u32)>,
    /// Below this it is too cool, °C; 25 without it.
    pub min_c: Option<u32>,
    /// Above this it is too warm, °C; 28 without it.
    pub max_c: Option<u32>,
    /// Above this it is risky, °C; 30 without it.
    pub risky_c: Option<u32>,
}

/// The base above which warmth is summed when nobody says another, tenths of °C (common practice, no source).
pub const USUAL_BASE_DECICELSIUS: i64 = 150;
/// Humidity around the eggs that is usual, % (common practice, no source).
pub const USUAL_HUMIDITY: (i64, i64) = (70, 85);

impl IncubationRules {
    /// The usual days from pairing to sac.
    #[must_use]
    pub fn days_to_sac(&self, group: Option<SacGroup>) -> (u32, u32) {
        self.sac_after.unwrap_or_else(|| group.map_or(ANY_DAYS_TO_SAC, SacGroup::days_to_sac))
    }

    /// From and to which temperature it is kept, and above which it is risky, °C.
    #[must_use]
    pub fn limits(&self) -> (u32, u32, u32) {
        (self.min_c.unwrap_or(25), self.max_c.unwrap_or(28), self.risky_c.unwrap_or(30))
    }

    /// What is wrong with a temperature (tenths of °C), in words; none when nothing is. The limits themselves are right.
    #[must_use]
    pub fn doubt(&self, decicelsius: i64) -> Option<Doubt> {
        let (least, most, risky) = self.limits();
        let above = |limit: u32| decicelsius > i64::from(limit) * 10;
        if above(risky) {
            Some(Doubt::Risky)
        } else if above(most) {
            Some(Doubt::Warm)
        } else if decicelsius < i64::from(least) * 10 {
            Some(Doubt::Cool)
        } else {
            None
        }
    }
}

coded_enum! {
    /// What is wrong with the temperature of a sac.
    Doubt, "doubt of a temperature" {
        Cool = "cool", "too cool";
        Warm = "warm", "too warm";
        Risky = "risky", "so warm that the eggs are at risk";
    }
}

/// The warmth that a sac has had.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Warmth {
    /// Degree-days from laying to the last day, °C × days.
    pub total: f64,
    /// The sum at the end of each day.
    pub by_day: Vec<(NaiveDate, f64)>,
    /// How many of the days have a reading.
    pub read: usize,
}

/// Degree-days of a sac above a base (°C), from the day of laying up to the last day, both included, by the single-sine
/// method (Baskerville & Emin 1969, Ecology 50: 514-517) over the least and most that were read on each day. A day without a
/// reading is taken as the one before it that has one, else as the first after it; `read` says how many were read.
/// Nothing without any reading, or when the last day is before the first.
///
/// # Errors
/// Temperatures that are out of range.
pub fn warmth(
    readings: &[(NaiveDate, f64)],
    laid_on: NaiveDate,
    until: NaiveDate,
    base_celsius: f64,
) -> Result<Option<Warmth>, DegreeDayError> {
    let mut ranges: BTreeMap<NaiveDate, DayRange> = BTreeMap::new();
    for (day, celsius) in readings.iter().filter(|(day, _)| (laid_on..=until).contains(day)) {
        let range = ranges.entry(*day).or_insert(DayRange { min: *celsius, max: *celsius });
        (range.min, range.max) = (range.min.min(*celsius), range.max.max(*celsius));
    }
    let Some(mut last) = ranges.values().next().copied() else { return Ok(None) };
    let length = usize::try_from(days_between(laid_on, until)).unwrap_or(0) + 1;
    let days: Vec<NaiveDate> = laid_on.iter_days().take(length).collect();
    let given: Vec<DayRange> = days
        .iter()
        .map(|day| {
            last = ranges.get(day).copied().unwrap_or(last);
            last
        })
        .collect();
    let sums = degree_days(&given, base_celsius, None, Method::SingleSine)?;
    let mut so_far = 0.0;
    let by_day = days.into_iter().zip(&sums.daily).map(|(day, warmth)| {
        so_far += warmth;
        (day, so_far)
    });
    Ok(Some(Warmth { by_day: by_day.collect(), total: sums.total, read: ranges.len() }))
}
