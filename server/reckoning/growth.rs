//! Growth by moults: a near constant ratio of length per moult (Dyar's and Przibram's rules). Published ratios: 1.26
//! (Przibram's rule), 1.38 (*Grammostola vachoni*, Zool. Anz. 293: 37-45, 2021).
//!
//! [`fit`] learns the ratio of one animal or species from its own spans, and [`rehouse`] forecasts when it outgrows its
//! enclosure.

pub mod fit;
pub mod rehouse;

/// Length ratio of Przibram's rule: three moults double a length.
pub const PRZIBRAM_RATIO: f64 = 1.26;
/// Length ratio measured in *Grammostola vachoni* (Zool. Anz. 293: 37-45, 2021).
pub const VACHONI_RATIO: f64 = 1.38;
/// Ratios of leg span over one moult that are plausible (common practice, no source).
pub const PLAUSIBLE_RATIO: std::ops::RangeInclusive<f64> = 1.05..=1.70;

/// Why growth was not reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum GrowthError {
    /// A length that is not above zero.
    #[error("a length must be a number above zero")]
    Length,
    /// A ratio that does not grow.
    #[error("a growth ratio must be a number above one")]
    Ratio,
}

/// The length after a number of moults, in the unit of the length given: length × ratio^moults.
///
/// # Errors
/// Lengths not above zero; ratios not above one.
pub fn after_moults(length: f64, ratio: f64, moults: u16) -> Result<f64, GrowthError> {
    check(length, ratio)?;
    Ok(length * ratio.powi(i32::from(moults)))
}

/// The fewest moults that bring a length to at least another, in the same unit.
///
/// # Errors
/// Lengths not above zero; ratios not above one.
pub fn moults_to_reach(length: f64, target: f64, ratio: f64) -> Result<u32, GrowthError> {
    check(length, ratio)?;
    check(target, ratio)?;
    if target <= length {
        return Ok(0);
    }
    // The small allowance keeps an exact power from being rounded up to one moult more.
    let moults = ((target / length).ln() / ratio.ln() - 1e-9).ceil();
    Ok(moults as u32)
}

/// A remark on a leg span taken after a moult, when its ratio to the one before is not plausible. Both in mm.
pub fn doubt(before_mm: u32, after_mm: u32) -> Option<String> {
    let ratio = f64::from(after_mm) / f64::from(before_mm);
    if PLAUSIBLE_RATIO.contains(&ratio) {
        return None;
    }
    Some(format!(
        "check the measurement: from {before_mm} mm to {after_mm} mm over one moult is × {ratio:.2}, and × 1.05 to × 1.70 is usual"
    ))
}

fn check(length: f64, ratio: f64) -> Result<(), GrowthError> {
    if !(length.is_finite() && length > 0.0) {
        return Err(GrowthError::Length);
    }
    if !(ratio.is_finite() && ratio > 1.0) {
        return Err(GrowthError::Ratio);
    }
    Ok(())
}
