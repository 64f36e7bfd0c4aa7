//! Vapour in the air from temperature and relative humidity.
//!
//! Saturation pressure over liquid water: ASHRAE Handbook Fundamentals 2017, chapter 1, equation 6, which is used below
//! 0 °C too, as relative humidity is by convention over water there (WMO-No. 8). The dew point is where that pressure
//! equals the vapour's, found by halving.

use serde::{Deserialize, Serialize};

/// Temperatures that are taken, °C: what air in a house can have, and far beyond.
pub const CELSIUS: std::ops::RangeInclusive<f64> = -60.0..=100.0;
const KELVIN: f64 = 273.15;

/// Why the air was not reckoned.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum AirError {
    /// A temperature that can't be.
    #[error("{0} °C is not a temperature of air: give a number from -60 to 100")]
    Celsius(f64),
    /// A humidity that can't be.
    #[error("{0} % is not a relative humidity: give a number above 0 and at most 100 (at 0 there is no dew point)")]
    Humidity(f64),
}

/// The vapour in air.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Air {
    /// Pressure of vapour that is in balance with water at this temperature, kPa.
    pub saturation_vapour_pressure_kpa: f64,
    /// Pressure of the vapour that there is, kPa.
    pub vapour_pressure_kpa: f64,
    /// The difference: how strongly the air dries, kPa.
    pub vapour_pressure_deficit_kpa: f64,
    /// Where its vapour begins to condense when it cools, °C.
    pub dew_point_celsius: f64,
}

/// The vapour in air of a temperature (°C) and relative humidity (%).
///
/// # Errors
/// Temperatures outside -60 to 100 °C; humidities not above 0 or above 100 %.
pub fn air(celsius: f64, relative_humidity_percent: f64) -> Result<Air, AirError> {
    if !CELSIUS.contains(&celsius) {
        return Err(AirError::Celsius(celsius));
    }
    if !(relative_humidity_percent > 0.0 && relative_humidity_percent <= 100.0) {
        return Err(AirError::Humidity(relative_humidity_percent));
    }
    let saturation = ln_saturation_pascals(celsius + KELVIN).exp() / 1000.0;
    let share = relative_humidity_percent / 100.0;
    Ok(Air {
        saturation_vapour_pressure_kpa: saturation,
        vapour_pressure_kpa: share * saturation,
        vapour_pressure_deficit_kpa: (1.0 - share) * saturation,
        dew_point_celsius: dew_point(celsius, share),
    })
}

/// ASHRAE Handbook Fundamentals 2017, chapter 1, equation 6.
fn ln_saturation_pascals(kelvin: f64) -> f64 {
    let polynomial = 1.391_499_3 + kelvin * (-4.864_023_9e-2 + kelvin * (4.176_476_8e-5 + kelvin * -1.445_209_3e-8));
    -5.800_220_6e3 / kelvin + polynomial + 6.545_967_3 * kelvin.ln()
}

/// The formula rises with temperature over all of the bracket, so halving finds the one root. It is in logarithms, where
/// even the driest air that a float can tell has a dew point above the bracket's end.
fn dew_point(celsius: f64, share: f64) -> f64 {
    let (mut low, mut high) = (1.0, celsius + KELVIN);
    let wanted = ln_saturation_pascals(high) + share.ln();
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if ln_saturation_pascals(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    high - KELVIN
}
