//! Cumulative sums of counts (Lucas, Counted data CUSUM's, Technometrics 27: 129-144, 1985): small rises of a rate that
//! last are found by adding up what is counted beyond a reference.

use serde::Serialize;

pub use super::run_length::average_run_length;

/// Why a cumulative sum was not reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CusumError {
    /// The rate that is in order is not above zero.
    #[error("must be a number above 0")]
    InControl,
    /// The rate to be found is not above the one in order.
    #[error("must be a number above the rate that is in order")]
    OutOfControl,
    /// A threshold that is not from 0 up.
    #[error("must be a number from 0 up")]
    Threshold,
    /// An exposure that is not from 0 up, by its place.
    #[error("must be a number from 0 up")]
    Exposure(usize),
    /// Not as many counts as exposures.
    #[error("must be as many as the exposures")]
    Counts,
    /// A mean, reference or threshold for which the chain would be too large or empty.
    #[error("the run length is reckoned for a mean and a reference from 1e-12 to 500, and a threshold from 0 to 500")]
    RunLength,
}

/// A cumulative sum over periods.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cusum {
    /// How many are taken off per unit of exposure.
    pub reference_value_per_exposure: f64,
    /// The sum after each period.
    pub statistic: Vec<f64>,
    /// The first period, counted from 0, after which the sum is above the threshold.
    pub alarm_index: Option<usize>,
}

/// The reference that best tells two Poisson rates apart, per unit of exposure: (r1 − r0) ÷ ln(r1 ÷ r0) (Lucas 1985).
///
/// # Errors
/// Rates that are not numbers with 0 < r0 < r1.
pub fn reference_value(in_control: f64, out_of_control: f64) -> Result<f64, CusumError> {
    if !(in_control.is_finite() && in_control > 0.0) {
        return Err(CusumError::InControl);
    }
    if !(out_of_control.is_finite() && out_of_control > in_control) {
        return Err(CusumError::OutOfControl);
    }
    let rise = (out_of_control - in_control) / in_control;
    // The ratio itself would round to one for rates that are almost alike, and overflow for those that are far apart.
    let log_ratio = if rise.is_finite() { rise.ln_1p() } else { out_of_control.ln() - in_control.ln() };
    Ok((out_of_control - in_control) / log_ratio)
}

/// The sum after one more period: max(0, before + count − reference).
pub fn step(before: f64, count: f64, reference: f64) -> f64 {
    (before + count - reference).max(0.0)
}

/// The cumulative sum over periods of (exposure, count), from zero; it is not set back after it passes the threshold.
///
/// # Errors
/// Rates that are not numbers with 0 < r0 < r1; thresholds and exposures that are not numbers from 0 up.
pub fn cusum(in_control: f64, out_of_control: f64, threshold: f64, periods: &[(f64, u64)]) -> Result<Cusum, CusumError> {
    let reference = reference_value(in_control, out_of_control)?;
    if !(threshold.is_finite() && threshold >= 0.0) {
        return Err(CusumError::Threshold);
    }
    let mut sum = 0.0;
    let mut statistic = Vec::with_capacity(periods.len());
    for (place, (exposure, count)) in periods.iter().enumerate() {
        if !(exposure.is_finite() && *exposure >= 0.0) {
            return Err(CusumError::Exposure(place));
        }
        sum = step(sum, *count as f64, reference * exposure);
        statistic.push(sum);
    }
    let alarm_index = statistic.iter().position(|sum| *sum > threshold);
    Ok(Cusum { reference_value_per_exposure: reference, statistic, alarm_index })
}
