//! Degree-days: how much warmth above a base each day gave, up to an upper limit.
//!
//! *Average*: both ends of the day are first brought within base and upper limit; then their mean less the base.
//! *Single sine* (Baskerville & Emin 1969, Ecology 50: 514-517): the day's temperature is a sine between its least and
//! most, and what counts is the area under it and above the base, less the area above the upper limit (horizontal
//! cutoff). With mean m and amplitude a, the area above a threshold t that the sine crosses is
//! (1/π) [(m - t)(π/2 - φ) + a cos φ] where φ = arcsin((t - m)/a).

use std::f64::consts::{FRAC_PI_2, PI};

use serde::{Deserialize, Serialize};

coded_enum! {
    /// How degree-days are reckoned.
    Method, "method" {
        Average = "average", "average";
        SingleSine = "single_sine", "single sine";
    }
}

/// Temperatures that are taken, °C.
pub const CELSIUS: std::ops::RangeInclusive<f64> = -100.0..=150.0;

/// The temperatures of a day, °C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DayRange {
    /// The least.
    pub min: f64,
    /// The most.
    pub max: f64,
}

/// Why degree-days were not reckoned.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum DegreeDayError {
    /// A base that can't be.
    #[error("the base is {0} °C: give a number from -100 to 150")]
    Base(f64),
    /// An upper limit that can't be.
    #[error("the upper limit is {upper} °C: give a number from the base ({base} °C) to 150, or none")]
    Upper {
        /// What was given.
        upper: f64,
        /// The base.
        base: f64,
    },
    /// A day that can't be.
    #[error("day {} runs from {min} to {max} °C: give numbers from -100 to 150, the least first", .index + 1)]
    Day {
        /// Its place in the list, from 0.
        index: usize,
        /// The least.
        min: f64,
        /// The most.
        max: f64,
    },
}

/// Degree-days of each day and of all together, °C × days.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DegreeDays {
    /// Each day.
    pub daily: Vec<f64>,
    /// All of them.
    pub total: f64,
}

/// Degree-days of days above a base (°C), up to an upper limit (°C) if there is one.
///
/// # Errors
/// Temperatures that are no number or out of range; an upper limit below the base; days whose most is below their least.
pub fn degree_days(days: &[DayRange], base: f64, upper: Option<f64>, method: Method) -> Result<DegreeDays, DegreeDayError> {
    if !CELSIUS.contains(&base) {
        return Err(DegreeDayError::Base(base));
    }
    if let Some(upper) = upper.filter(|upper| !(base..=*CELSIUS.end()).contains(upper)) {
        return Err(DegreeDayError::Upper { upper, base });
    }
    let mut daily = Vec::with_capacity(days.len());
    for (index, &DayRange { min, max }) in days.iter().enumerate() {
        if !(CELSIUS.contains(&min) && CELSIUS.contains(&max) && min <= max) {
            return Err(DegreeDayError::Day { index, min, max });
        }
        let given = match method {
            Method::Average => {
                let within = |end: f64| end.max(base).min(upper.unwrap_or(f64::INFINITY));
                0.5 * (within(min) + within(max)) - base
            }
            Method::SingleSine => area_above(base, min, max) - upper.map_or(0.0, |upper| area_above(upper, min, max)),
        };
        // Rounding alone could bring it below nought.
        daily.push(given.max(0.0));
    }
    let total = daily.iter().sum();
    Ok(DegreeDays { daily, total })
}

/// The area over one day under a sine from `min` to `max` and above a threshold.
fn area_above(threshold: f64, min: f64, max: f64) -> f64 {
    let (mean, amplitude) = (0.5 * (min + max), 0.5 * (max - min));
    if threshold <= min {
        return mean - threshold;
    }
    if threshold >= max {
        return 0.0;
    }
    // Between the two ends the amplitude is above 0; rounding may still bring the sine a hair beyond 1.
    let crossed = ((threshold - mean) / amplitude).clamp(-1.0, 1.0).asin();
    ((mean - threshold) * (FRAC_PI_2 - crossed) + amplitude * crossed.cos()) / PI
}
