//! Proportions and rates with their limits, from counts.

mod tails;

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

pub use tails::{beta_binomial_upper_tail, binomial_upper_tail, negative_binomial_upper_tail, poisson_upper_tail};
pub(super) use tails::{poisson_mass, poisson_upper};

/// The largest count, total or mean that is reckoned with.
pub const MOST_COUNTED: u64 = 100_000_000;

/// Why a proportion or rate was not reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RateError {
    /// A proportion of none.
    #[error("must be at least 1: there is no proportion of none")]
    NoTotal,
    /// More counted than there are.
    #[error("is more than the total")]
    MoreThanAll,
    /// A count beyond what is reckoned with.
    #[error("must be at most 100000000")]
    CountTooLarge,
    /// A total beyond what is reckoned with.
    #[error("must be at most 100000000, and a million for an uncertain share")]
    TotalTooLarge,
    /// An exposure that is not above zero.
    #[error("must be a number above 0")]
    Exposure,
    /// A confidence that is not between 0 and 1.
    #[error("must be a number above 0 and below 1, such as 0.95")]
    Confidence,
    /// A mean that is not a number from 0 up.
    #[error("must be a number from 0 to 100000000 (above 0 where it is uncertain)")]
    Mean,
    /// A shape that is too small or no number.
    #[error("must be a number from 0.1 to 100000000")]
    Shape,
    /// A probability outside 0 to 1.
    #[error("must be a number from 0 to 1")]
    Probability,
}

impl RateError {
    /// The name of what was refused, as fields are named.
    pub fn field(self) -> &'static str {
        match self {
            Self::NoTotal | Self::TotalTooLarge => "total",
            Self::MoreThanAll | Self::CountTooLarge => "count",
            Self::Exposure => "exposure",
            Self::Confidence => "confidence",
            Self::Mean => "mean",
            Self::Shape => "shape",
            Self::Probability => "probability",
        }
    }
}

/// A proportion (0 to 1) or a rate (per unit of exposure) with its limits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limits {
    /// Count ÷ total, or count ÷ exposure.
    pub estimate: f64,
    /// The lower limit.
    pub lower: f64,
    /// The upper limit.
    pub upper: f64,
}

impl Limits {
    /// In per cent, as people write it: “30.8 % (25.5 to 36.6 %)”.
    pub fn percent(&self) -> String {
        let percent = |part: f64| format!("{:.1}", part * 100.0);
        format!("{} % ({} to {} %)", percent(self.estimate), percent(self.lower), percent(self.upper))
    }
}

/// A proportion with Wilson's score limits, method 3 of Newcombe, Stat. Med. 17: 857-872, 1998.
///
/// # Errors
/// A proportion of none, more counted than there are, totals above [`MOST_COUNTED`], a confidence not between 0 and 1.
pub fn wilson(count: u64, total: u64, confidence: f64) -> Result<Limits, RateError> {
    let (estimate, tail) = (proportion(count, total)?, half_outside(confidence)?);
    let z = Normal::standard().inverse_cdf(tail);
    let (n, square) = (total as f64, z * z);
    let middle = 2.0 * n * estimate + square;
    let half = -z * (square + 4.0 * n * estimate * (1.0 - estimate)).sqrt();
    let whole = 2.0 * (n + square);
    // At the ends the limit is the end itself; the difference would leave a rounding error there.
    let lower = if count == 0 { 0.0 } else { (middle - half) / whole };
    let upper = if count == total { 1.0 } else { (middle + half) / whole };
    Ok(Limits { estimate, lower: lower.max(0.0), upper: upper.min(1.0) })
}

/// A proportion with exact limits (Clopper & Pearson, Biometrika 26: 404-413, 1934): each limit is the probability
/// under which what was counted, or more extreme, has a chance of half of what the confidence leaves.
///
/// # Errors
/// As [`wilson`].
pub fn clopper_pearson(count: u64, total: u64, confidence: f64) -> Result<Limits, RateError> {
    let (estimate, tail) = (proportion(count, total)?, half_outside(confidence)?);
    let lower = match count {
        0 => 0.0,
        _ => crossing(0.0, estimate, |p| tails::binomial_upper(count, total, p) > tail),
    };
    let upper = if count == total { 1.0 } else { crossing(estimate, 1.0, |p| tails::binomial_lower(count, total, p) < tail) };
    Ok(Limits { estimate, lower, upper })
}

/// A rate per unit of exposure with exact Poisson limits (Garwood, Biometrika 28: 437-442, 1936).
///
/// # Errors
/// An exposure that is not above zero, counts above [`MOST_COUNTED`], a confidence not between 0 and 1.
pub fn poisson_exact(count: u64, exposure: f64, confidence: f64) -> Result<Limits, RateError> {
    let tail = half_outside(confidence)?;
    if !(exposure.is_finite() && exposure > 0.0) {
        return Err(RateError::Exposure);
    }
    if count > MOST_COUNTED {
        return Err(RateError::CountTooLarge);
    }
    let counted = count as f64;
    let lower = match count {
        0 => 0.0,
        _ => crossing(0.0, counted, |mean| tails::poisson_upper(count, mean) > tail),
    };
    // A tail of 1e-17 is the least that a confidence can leave; its limit lies below 40 + count + 10 × √count × 2.
    let most = counted + 20.0 * counted.sqrt() + 50.0;
    let upper = crossing(counted, most, |mean| tails::poisson_lower(count, mean) < tail);
    let limits = Limits { estimate: counted / exposure, lower: lower / exposure, upper: upper / exposure };
    if limits.upper.is_finite() { Ok(limits) } else { Err(RateError::Exposure) }
}

fn proportion(count: u64, total: u64) -> Result<f64, RateError> {
    match total {
        0 => Err(RateError::NoTotal),
        _ if count > total => Err(RateError::MoreThanAll),
        _ if total > MOST_COUNTED => Err(RateError::TotalTooLarge),
        _ => Ok(count as f64 / total as f64),
    }
}

/// The chance that the confidence leaves outside each limit.
fn half_outside(confidence: f64) -> Result<f64, RateError> {
    if confidence > 0.0 && confidence < 1.0 { Ok((1.0 - confidence) / 2.0) } else { Err(RateError::Confidence) }
}

/// Where a condition that is false at `from` becomes true on the way to `to`, by halving until the two touch. Own, as
/// the inverse functions of statrs are coarser than the tails.
fn crossing(from: f64, to: f64, reached: impl Fn(f64) -> bool) -> f64 {
    let (mut below, mut above) = (from, to);
    while above - below > 4.0 * f64::EPSILON * above {
        let middle = below + (above - below) / 2.0;
        if middle <= below || middle >= above {
            break;
        }
        if reached(middle) {
            above = middle;
        } else {
            below = middle;
        }
    }
    below + (above - below) / 2.0
}
