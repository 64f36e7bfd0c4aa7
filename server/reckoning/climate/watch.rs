//! Since when a rack has been out of the climate that its species need.
//!
//! A quantity goes out with the first reading outside its band, and comes back only with a reading that is inside by a
//! margin, so that one that hovers at a limit does not flap (hysteresis; 0.5 °C and 3 % are common practice, no source).

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};

use super::band::{Limit, Needed, NeededBand, Quantity};

/// One reading of a rack's instruments.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// When it was taken.
    pub at: DateTime<Utc>,
    /// Temperature, °C, if it was read.
    pub celsius: Option<f64>,
    /// Relative humidity, %, if it was read.
    pub humidity: Option<f64>,
}

/// By how much a reading must be inside to count as back.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rule {
    /// Margin of temperature, °C.
    pub celsius_margin: f64,
    /// Margin of relative humidity, %.
    pub humidity_margin: f64,
}

impl Default for Rule {
    fn default() -> Self {
        Self { celsius_margin: 0.5, humidity_margin: 3.0 }
    }
}

/// Why readings were refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WatchError {
    /// A reading that can't be.
    #[error("reading {}: {quantity} of {given} can't be: give a number from {least} to {most}, or none", .index + 1)]
    Reading {
        /// Its place in the list, from 0.
        index: usize,
        /// Temperature or humidity.
        quantity: Quantity,
        /// What was given.
        given: f64,
        /// The least that is taken.
        least: f64,
        /// The most that is taken.
        most: f64,
    },
    /// A margin that can't be.
    #[error("the margin of {quantity} is {given}: give a number from 0 to 50")]
    Margin {
        /// Temperature or humidity.
        quantity: Quantity,
        /// What was given.
        given: f64,
    },
}

coded_enum! {
    /// How a quantity stands.
    Standing, "standing" {
        Unread = "unread", "not read";
        NoBand = "no-band", "no band suits all";
        InRange = "in-range", "in range";
        TooLow = "too-low", "too low";
        TooHigh = "too-high", "too high";
    }
}

/// How a quantity stands after the last reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct State {
    /// In range, too low, too high.
    pub standing: Standing,
    /// Since which reading.
    pub since: Option<DateTime<Utc>>,
    /// The last reading of it.
    pub last: Option<f64>,
    /// When that was taken.
    pub last_at: Option<DateTime<Utc>>,
    /// All of it in a sentence.
    pub told: String,
}

/// One time out of range.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Spell {
    /// What was out.
    pub quantity: Quantity,
    /// Too low or too high.
    pub standing: Standing,
    /// The first reading outside.
    pub from: DateTime<Utc>,
    /// The reading with which it was back, or beyond the other limit; nothing while it lasts.
    pub until: Option<DateTime<Utc>>,
    /// The reading furthest out.
    pub worst: f64,
    /// How many readings it lasted for.
    pub readings: usize,
}

/// How a rack stands, and every time that it was out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OutOfRange {
    /// Temperature.
    pub celsius: State,
    /// Relative humidity.
    pub humidity: State,
    /// Every time out of range, by quantity and in order of time.
    pub spells: Vec<Spell>,
}

/// How a rack stands after its readings, given in any order; times in sentences are those of a zone.
///
/// # Errors
/// Readings and margins that are no number or out of range.
pub fn out_of_range(readings: &[Reading], band: &NeededBand, rule: Rule, zone: Tz) -> Result<OutOfRange, WatchError> {
    for (quantity, given) in [(Quantity::Celsius, rule.celsius_margin), (Quantity::Humidity, rule.humidity_margin)] {
        if !(0.0..=50.0).contains(&given) {
            return Err(WatchError::Margin { quantity, given });
        }
    }
    let (celsius, mut spells) = stand(Quantity::Celsius, &band.celsius, rule.celsius_margin, readings, zone)?;
    let (humidity, more) = stand(Quantity::Humidity, &band.humidity, rule.humidity_margin, readings, zone)?;
    spells.extend(more);
    Ok(OutOfRange { celsius, humidity, spells })
}

fn stand(quantity: Quantity, needed: &Needed, margin: f64, readings: &[Reading], zone: Tz) -> Result<(State, Vec<Spell>), WatchError> {
    let values = values(readings, quantity)?;
    let (last_at, last) = values.last().copied().unzip();
    match needed {
        Needed::Clash { reason, .. } => {
            let state = State { standing: Standing::NoBand, since: None, last, last_at, told: reason.clone() };
            Ok((state, Vec::new()))
        }
        Needed::Band { low, high } => {
            // In a band narrower than two margins the middle is inside enough.
            let gate = Gate { quantity, low, high, margin: margin.min(0.5 * (high.value - low.value)) };
            let (standing, since, spells) = gate.follow(&values);
            let told = gate.tell(standing, since.zip(last), zone);
            Ok((State { standing, since, last, last_at, told }, spells))
        }
    }
}

/// One quantity's readings in order of time.
fn values(readings: &[Reading], quantity: Quantity) -> Result<Vec<(DateTime<Utc>, f64)>, WatchError> {
    let (least, most) = quantity.allowed();
    let mut values = Vec::new();
    for (index, reading) in readings.iter().enumerate() {
        let value = match quantity {
            Quantity::Celsius => reading.celsius,
            Quantity::Humidity => reading.humidity,
        };
        match value {
            Some(given) if !(least..=most).contains(&given) => {
                return Err(WatchError::Reading { index, quantity, given, least, most });
            }
            Some(value) => values.push((reading.at, value)),
            None => {}
        }
    }
    values.sort_by_key(|(at, _)| *at);
    Ok(values)
}

/// A band with the margin by which a quantity must be inside to be back.
struct Gate<'a> {
    quantity: Quantity,
    low: &'a Limit,
    high: &'a Limit,
    margin: f64,
}

impl Gate<'_> {
    /// How a quantity stands with a reading, given how it stood. A reading that is back by the margin to the last digit
    /// is back, however floats add.
    fn pass(&self, before: Standing, value: f64) -> Standing {
        let hair = 1e-9;
        if value < self.low.value || (before == Standing::TooLow && value < self.low.value + self.margin - hair) {
            Standing::TooLow
        } else if value > self.high.value || (before == Standing::TooHigh && value > self.high.value - self.margin + hair) {
            Standing::TooHigh
        } else {
            Standing::InRange
        }
    }

    /// How a quantity stands after its readings, since when, and every time that it was out.
    fn follow(&self, values: &[(DateTime<Utc>, f64)]) -> (Standing, Option<DateTime<Utc>>, Vec<Spell>) {
        let (mut standing, mut since, mut spells) = (Standing::Unread, None, Vec::<Spell>::new());
        for &(at, value) in values {
            let now = self.pass(standing, value);
            if now != standing {
                if let Some(ended) = spells.last_mut().filter(|spell| spell.until.is_none()) {
                    ended.until = Some(at);
                }
                if now != Standing::InRange {
                    spells.push(Spell { quantity: self.quantity, standing: now, from: at, until: None, worst: value, readings: 0 });
                }
                (standing, since) = (now, Some(at));
            }
            if let Some(spell) = spells.last_mut().filter(|spell| spell.until.is_none()) {
                spell.readings += 1;
                spell.worst = if now == Standing::TooLow { spell.worst.min(value) } else { spell.worst.max(value) };
            }
        }
        (standing, since, spells)
    }

    fn tell(&self, standing: Standing, reading: Option<(DateTime<Utc>, f64)>, zone: Tz) -> String {
        let Some((since, value)) = reading else { return format!("{} has not been read", self.quantity) };
        let since = since.with_timezone(&zone).format("%-d %B %Y %H:%M");
        let (quantity, now) = (self.quantity, self.quantity.written(value));
        let (word, limit, need, back_at, inside) = match standing {
            Standing::TooLow => (quantity.too_low(), self.low, "at least", self.low.value + self.margin, value >= self.low.value),
            Standing::TooHigh => (quantity.too_high(), self.high, "at most", self.high.value - self.margin, value <= self.high.value),
            _ => return format!("{quantity} in range since {since}: {now}"),
        };
        let needs = format!("{} needs {need} {}", limit.label, quantity.written(limit.value));
        let back = if inside { format!("; it counts as back at {}", quantity.written(back_at)) } else { String::new() };
        format!("{word} since {since}: {now}, {needs}{back}")
    }
}
