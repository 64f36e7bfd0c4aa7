//! The climate that all species of a rack can share: the part that is common to all of their bands.

use serde::{Deserialize, Serialize};

use super::short;

/// What a species needs: lowest and highest temperature (°C) and relative humidity (%).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClimateBand {
    /// Lowest and highest temperature, °C.
    pub celsius: (f64, f64),
    /// Lowest and highest relative humidity, %.
    pub humidity: (f64, f64),
}

/// Why a band was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BandError {
    /// No species at all.
    #[error("no species are given: a band needs at least one")]
    NoSpecies,
    /// Limits that can't be.
    #[error("{label}: {quantity} from {low} to {high} is not a band: give numbers from {least} to {most}, the lowest first")]
    Limits {
        /// Its place in the list, from 0.
        index: usize,
        /// The species.
        label: String,
        /// Temperature or humidity.
        quantity: Quantity,
        /// Lowest.
        low: f64,
        /// Highest.
        high: f64,
        /// The least that is taken.
        least: f64,
        /// The most that is taken.
        most: f64,
    },
}

coded_enum! {
    /// What is measured.
    Quantity, "quantity" {
        Celsius = "celsius", "temperature";
        Humidity = "humidity", "humidity";
    }
}

impl Quantity {
    /// A value with its unit: “22 °C”.
    #[must_use]
    pub fn written(self, value: f64) -> String {
        let value = short(value);
        match self {
            Self::Celsius => format!("{value} °C"),
            Self::Humidity => format!("{value} %"),
        }
    }

    /// Too low in a word: “too cold”.
    #[must_use]
    pub fn too_low(self) -> &'static str {
        match self {
            Self::Celsius => "too cold",
            Self::Humidity => "too dry",
        }
    }

    /// Too high in a word: “too warm”.
    #[must_use]
    pub fn too_high(self) -> &'static str {
        match self {
            Self::Celsius => "too warm",
            Self::Humidity => "too damp",
        }
    }

    pub(super) fn allowed(self) -> (f64, f64) {
        match self {
            Self::Celsius => (-60.0, 100.0),
            Self::Humidity => (0.0, 100.0),
        }
    }

    fn of(self, band: &ClimateBand) -> (f64, f64) {
        match self {
            Self::Celsius => band.celsius,
            Self::Humidity => band.humidity,
        }
    }
}

/// One end of a band, and the species that sets it; of several that need the same, the first in the alphabet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Limit {
    /// The limit.
    pub value: f64,
    /// The species that sets it.
    pub label: String,
}

/// What a rack needs of one quantity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Needed {
    /// A band that suits every species.
    Band {
        /// At least this.
        low: Limit,
        /// At most this.
        high: Limit,
    },
    /// There is none: the lowest that one species needs is above the highest of another.
    Clash {
        /// What the one needs at least.
        low: Limit,
        /// What the other bears at most.
        high: Limit,
        /// In words, with both limits.
        reason: String,
    },
}

/// The climate that all species of a rack can share.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NeededBand {
    /// Temperature, °C.
    pub celsius: Needed,
    /// Relative humidity, %.
    pub humidity: Needed,
}

impl NeededBand {
    /// What is needed of a quantity.
    #[must_use]
    pub fn of(&self, quantity: Quantity) -> &Needed {
        match quantity {
            Quantity::Celsius => &self.celsius,
            Quantity::Humidity => &self.humidity,
        }
    }

    /// Why species can't share the rack, in words; empty when they can.
    #[must_use]
    pub fn clashes(&self) -> Vec<&str> {
        let told = [&self.celsius, &self.humidity].into_iter().filter_map(|needed| match needed {
            Needed::Clash { reason, .. } => Some(reason.as_str()),
            Needed::Band { .. } => None,
        });
        told.collect()
    }
}

/// What is common to the bands of all species of a rack, and which species sets each limit.
///
/// # Errors
/// No species; limits that are no number, out of range, or the wrong way round.
pub fn needed_band(bands: &[(&str, ClimateBand)]) -> Result<NeededBand, BandError> {
    Ok(NeededBand { celsius: needed(bands, Quantity::Celsius)?, humidity: needed(bands, Quantity::Humidity)? })
}

fn needed(bands: &[(&str, ClimateBand)], quantity: Quantity) -> Result<Needed, BandError> {
    let (least, most) = quantity.allowed();
    for (index, (label, band)) in bands.iter().enumerate() {
        let (low, high) = quantity.of(band);
        if !(low >= least && high <= most && low <= high) {
            return Err(BandError::Limits { index, label: (*label).to_owned(), quantity, low, high, least, most });
        }
    }
    let limit = |(value, label): (f64, &str)| Limit { value, label: label.to_owned() };
    let lows = bands.iter().map(|(label, band)| (quantity.of(band).0, *label));
    let highs = bands.iter().map(|(label, band)| (quantity.of(band).1, *label));
    let low = lows.reduce(|one, other| if (-other.0, other.1) < (-one.0, one.1) { other } else { one }).map(limit);
    let high = highs.reduce(|one, other| if other < one { other } else { one }).map(limit);
    let (Some(low), Some(high)) = (low, high) else { return Err(BandError::NoSpecies) };
    if low.value <= high.value {
        return Ok(Needed::Band { low, high });
    }
    let reason = format!(
        "{} and {} can't share a rack: {quantity} at least {} for the one, at most {} for the other",
        low.label,
        high.label,
        quantity.written(low.value),
        quantity.written(high.value)
    );
    Ok(Needed::Clash { low, high, reason })
}
