//! The growth of one animal or species from its own spans: ordinary least squares of ln(mm) on instar.
//!
//! A constant ratio per moult (Przibram & Megušar 1912; Dyar 1890, from memory) makes ln(mm) a straight line in the
//! number of moults. Prediction interval of a new value: Student's t with n - 2 degrees of freedom (Draper & Smith,
//! Applied Regression Analysis, chapter 1, from memory).

use serde::{Deserialize, Serialize};

use super::PLAUSIBLE_RATIO;
use crate::reckoning::student::Student;

/// The longest span, mm: no spider comes near.
pub const MOST_MM: f64 = 1000.0;
/// The highest instar that is taken.
pub const MOST_INSTAR: u32 = 100;
/// A measurement may be off by this share before it is doubted, however straight the line (common practice, no source).
const MEASURING: f64 = 0.05;

/// One span.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// The instar it was taken in.
    pub instar: u32,
    /// The span, mm.
    pub mm: f64,
}

/// Why no line was fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// A span that can't be.
    #[error("span {} is {given} mm: give a number from 0.001 to 1000", .index + 1)]
    Length {
        /// Its place in the list, from 0.
        index: usize,
        /// What was given.
        given: f64,
    },
    /// An instar that can't be.
    #[error("span {} is of instar {given}: give a number from 0 to {MOST_INSTAR}", .index + 1)]
    Instar {
        /// Its place in the list, from 0.
        index: usize,
        /// What was given.
        given: u32,
    },
    /// Too little to fit.
    #[error("a growth ratio needs at least 3 spans of at least 2 instars; there are {spans} of {instars}")]
    TooFew {
        /// How many spans there are.
        spans: usize,
        /// Of how many instars.
        instars: usize,
    },
}

/// A fitted line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Fit {
    /// How many spans it rests on.
    pub spans: usize,
    /// Growth in length per moult.
    pub ratio: f64,
    /// The logarithm of the ratio.
    pub log_slope: f64,
    /// ln(mm) at instar 0.
    pub log_intercept: f64,
    /// The share of the variance of ln(mm) that the line explains; nothing when the spans don't differ.
    pub r_squared: Option<f64>,
    /// The instar after the last one measured.
    pub next_instar: u32,
    /// The span to expect then, mm.
    pub predicted_next_mm: f64,
    /// Where four of five such spans would lie, mm.
    pub prediction_interval_80: (f64, f64),
    /// The standard deviation of ln(mm) about the line.
    pub residual: f64,
    #[serde(skip)]
    mean_instar: f64,
    #[serde(skip)]
    instar_squares: f64,
}

/// Fits a line through spans in any order.
///
/// # Errors
/// Fewer than 3 spans or 2 instars; spans and instars out of range.
pub fn fit(spans: &[Span]) -> Result<Fit, FitError> {
    check(spans)?;
    let count = spans.len() as f64;
    let mean_instar = spans.iter().map(|span| f64::from(span.instar)).sum::<f64>() / count;
    let mean_log = spans.iter().map(|span| span.mm.ln()).sum::<f64>() / count;
    let (mut instar_squares, mut products, mut log_squares) = (0.0, 0.0, 0.0);
    for span in spans {
        let (x, y) = (f64::from(span.instar) - mean_instar, span.mm.ln() - mean_log);
        instar_squares += x * x;
        products += x * y;
        log_squares += y * y;
    }
    let log_slope = products / instar_squares;
    let left: f64 = spans.iter().map(|span| (span.mm.ln() - mean_log - log_slope * (f64::from(span.instar) - mean_instar)).powi(2)).sum();
    let next_instar = spans.iter().map(|span| span.instar).max().unwrap_or_default() + 1;
    let mut fit = Fit {
        spans: spans.len(),
        ratio: log_slope.exp(),
        log_slope,
        log_intercept: mean_log - log_slope * mean_instar,
        r_squared: (log_squares > 1e-24 * count).then(|| 1.0 - left / log_squares),
        next_instar,
        predicted_next_mm: 0.0,
        prediction_interval_80: (0.0, 0.0),
        residual: (left / (count - 2.0)).sqrt(),
        mean_instar,
        instar_squares,
    };
    fit.predicted_next_mm = fit.expected_mm(next_instar);
    fit.prediction_interval_80 = fit.interval(next_instar, 0.8);
    Ok(fit)
}

impl Fit {
    /// The span to expect in an instar, mm.
    #[must_use]
    pub fn expected_mm(&self, instar: u32) -> f64 {
        (self.log_intercept + self.log_slope * f64::from(instar)).exp()
    }

    /// Where this share of new spans of an instar would lie, mm.
    #[must_use]
    pub fn interval(&self, instar: u32, share: f64) -> (f64, f64) {
        let half = self.half_width(instar, share);
        let expected = self.expected_mm(instar);
        (expected * (-half).exp(), expected * half.exp())
    }

    /// Where the ratio itself lies with a chance of 80 %.
    #[must_use]
    pub fn ratio_interval_80(&self) -> (f64, f64) {
        let point = Student::new(self.spans as f64 - 2.0).point_above(0.1);
        let half = point * self.residual / self.instar_squares.sqrt();
        ((self.log_slope - half).exp(), (self.log_slope + half).exp())
    }

    /// A remark on a new span: when it lies outside 95 % of what the line expects of its instar, or when the ratio per
    /// moult to the last span is not plausible for any spider. A measurement off by up to 5 % is never held against it.
    #[must_use]
    pub fn doubt(&self, last: Span, new: Span) -> Option<String> {
        let half = self.half_width(new.instar, 0.95).max((1.0 + MEASURING).ln());
        let expected = self.expected_mm(new.instar);
        let (low, high) = (expected * (-half).exp(), expected * half.exp());
        if !(low..=high).contains(&new.mm) {
            return Some(format!(
                "check the measurement: {:.1} mm at instar {}, and {low:.1} to {high:.1} mm follows from {} earlier spans (× {:.2} a moult)",
                new.mm, new.instar, self.spans, self.ratio
            ));
        }
        doubt_per_moult(last, new)
    }

    fn half_width(&self, instar: u32, share: f64) -> f64 {
        let count = self.spans as f64;
        let away = f64::from(instar) - self.mean_instar;
        let point = Student::new(count - 2.0).point_above((1.0 - share.clamp(0.0, 0.999)) / 2.0);
        point * self.residual * (1.0 + 1.0 / count + away * away / self.instar_squares).sqrt()
    }
}

/// A remark on a span whose ratio per moult to an earlier one is not plausible for any spider.
#[must_use]
pub fn doubt_per_moult(before: Span, after: Span) -> Option<String> {
    let moults = after.instar.checked_sub(before.instar).filter(|moults| *moults > 0)?;
    let ratio = (after.mm / before.mm).powf(1.0 / f64::from(moults));
    if PLAUSIBLE_RATIO.contains(&ratio) {
        return None;
    }
    let over = if moults == 1 { "one moult".to_owned() } else { format!("{moults} moults") };
    Some(format!(
        "check the measurement: from {:.1} mm to {:.1} mm over {over} is × {ratio:.2} a moult, and × 1.05 to × 1.70 is usual",
        before.mm, after.mm
    ))
}

fn check(spans: &[Span]) -> Result<(), FitError> {
    let mut instars = std::collections::BTreeSet::new();
    for (index, span) in spans.iter().enumerate() {
        if !(0.001..=MOST_MM).contains(&span.mm) {
            return Err(FitError::Length { index, given: span.mm });
        }
        if span.instar > MOST_INSTAR {
            return Err(FitError::Instar { index, given: span.instar });
        }
        instars.insert(span.instar);
    }
    if spans.len() < 3 || instars.len() < 2 {
        return Err(FitError::TooFew { spans: spans.len(), instars: instars.len() });
    }
    Ok(())
}
