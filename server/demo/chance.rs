//! The chances of the simulation that are not even.

use rand::RngExt as _;
use rand::rngs::StdRng;
use statrs::distribution::{ContinuousCDF as _, Normal};

/// The standard normal quantile of 90 %.
const Z90: f64 = 1.281_551_565_544_6;

/// A standard normal number.
pub(super) fn normal(rng: &mut StdRng) -> f64 {
    Normal::standard().inverse_cdf(rng.random_range(1e-6..1.0 - 1e-6))
}

/// Days to a moult: log-normal about the middle of the range, which is its central 80 %. A fifth of the variance is the
/// animal's own, given as its standard normal number; the rest is drawn.
pub(super) fn days_to_moult(least: f64, most: f64, own: f64, rng: &mut StdRng) -> u64 {
    let middle = (least * most).sqrt();
    let spread = (most / least).ln() / (2.0 * Z90);
    let days = middle * (spread * (0.2_f64.sqrt() * own + 0.8_f64.sqrt() * normal(rng))).exp();
    // Moult ranges are at most a few years, so this fits.
    days.round().max(2.0) as u64
}
