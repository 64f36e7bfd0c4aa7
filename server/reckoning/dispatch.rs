//! May a parcel go on a day? The rule of temperature and weekday, with reasons. Whether the animals in it may travel is
//! [`readiness_to_send`](super::sale_readiness::readiness_to_send).
//!
//! All figures are common practice, no source: sellers' published terms hold parcels below 40 °F (4.4 °C) and above 80 to 90 °F
//! (26.7 to 32.2 °C). Carriers have rules of their own; they are not decided here.

use chrono::{Datelike as _, NaiveDate, Weekday};
use serde::{Deserialize, Serialize};

use super::calendar::written;
use super::sale_readiness::Finding;
use super::units::{Unit, UnitError, convert};

/// The forecast of one end of a journey for its day and night, in tenths of the unit that it is given in, so that no
/// conversion shifts it across a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Forecast {
    /// The lowest, tenths of a degree.
    pub low: i64,
    /// The highest, tenths of a degree.
    pub high: i64,
}

/// The house's rules of dispatch, temperatures in tenths of a degree Celsius.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rules {
    /// No dispatch below this.
    pub lowest: i64,
    /// No dispatch above this.
    pub highest: i64,
    /// Below this a heat pack goes in.
    pub pack_below: i64,
    /// Below this, a heat pack is for whoever packs to judge.
    pub pack_judge: i64,
    /// The days of dispatch: bit 0 is Monday.
    pub weekdays: u8,
}

impl Default for Rules {
    /// Common practice, no source: 5 to 30 °C, a heat pack below 10 to 15 °C, Monday to Wednesday.
    fn default() -> Self {
        Self { lowest: 50, highest: 300, pack_below: 100, pack_judge: 150, weekdays: 0b0000_0111 }
    }
}

/// A planned journey.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Journey {
    /// The day it goes.
    pub day: NaiveDate,
    /// The unit of both forecasts: °C or °F.
    pub unit: Unit,
    /// The forecast where it is sent.
    pub here: Forecast,
    /// The forecast where it arrives.
    pub there: Forecast,
}

coded_enum! {
    /// What a journey asks for against the cold.
    HeatPack, "heat pack" {
        None = "none", "no heat pack";
        Judge = "judge", "a heat pack if whoever packs sees fit, never touching the vial";
        Needed = "needed", "a heat pack, never touching the vial";
    }
}

/// Whether a parcel may go.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Verdict {
    /// Whether nothing blocks.
    pub may_go: bool,
    /// What speaks against it, those that block first.
    pub findings: Vec<Finding>,
    /// What to do against the cold.
    pub heat_pack: HeatPack,
    /// All of it in one sentence.
    pub summary: String,
}

/// Whether a journey's day and forecasts let a parcel go.
///
/// # Errors
/// A unit that is no temperature; a lowest above its highest.
pub fn dispatch(journey: &Journey, rules: &Rules) -> Result<Verdict, DispatchError> {
    let unit = match journey.unit {
        unit @ (Unit::Celsius | Unit::Fahrenheit) => unit,
        other => return Err(DispatchError::NotATemperature(other)),
    };
    let ends = [("here", journey.here), ("at the other end", journey.there)];
    let mut findings = Vec::new();
    for (end, forecast) in ends {
        if forecast.low > forecast.high {
            return Err(DispatchError::UpsideDown);
        }
        if fine(forecast.low, unit) < rules.lowest * 18 {
            let (low, limit) = (degrees(forecast.low, unit), degrees(rules.lowest, Unit::Celsius));
            findings.push(blocks(format!("{low} forecast {end}; no dispatch below {limit}")));
        }
        if fine(forecast.high, unit) > rules.highest * 18 {
            let (high, limit) = (degrees(forecast.high, unit), degrees(rules.highest, Unit::Celsius));
            findings.push(blocks(format!("{high} forecast {end}; no dispatch above {limit}")));
        }
    }
    if !is_day(rules.weekdays, journey.day.weekday()) {
        findings.push(blocks(format!(
            "{} is a {}; parcels go on {}",
            written(journey.day),
            full(journey.day.weekday()),
            days(rules.weekdays)
        )));
    }
    let coldest = fine(journey.here.low, unit).min(fine(journey.there.low, unit));
    let heat_pack = if coldest < rules.pack_below * 18 {
        HeatPack::Needed
    } else if coldest < rules.pack_judge * 18 {
        HeatPack::Judge
    } else {
        HeatPack::None
    };
    let may_go = findings.is_empty();
    let told = findings.iter().map(|finding| finding.text.as_str()).collect::<Vec<_>>().join("; ");
    let summary = if may_go { format!("may go on {}; {heat_pack}", written(journey.day)) } else { format!("does not go: {told}") };
    Ok(Verdict { may_go, findings, heat_pack, summary })
}

/// Why a journey can't be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum DispatchError {
    /// A unit of something else.
    #[error("{0} is no unit of temperature; give c or f")]
    NotATemperature(Unit),
    /// A lowest above its highest.
    #[error("the lowest temperature is above the highest; check both")]
    UpsideDown,
}

fn blocks(text: String) -> Finding {
    Finding { blocks: true, text }
}

/// Tenths of a degree in eighteenths of a tenth of a degree Celsius: whole numbers for either unit, by t/°C = (t/°F − 32)/1.8.
fn fine(tenths: i64, unit: Unit) -> i64 {
    if unit == Unit::Fahrenheit { (tenths - 320) * 10 } else { tenths * 18 }
}

/// Tenths of a degree as people read them: `5.0 °C`, and of Fahrenheit with Celsius beside: `40.0 °F (4.4 °C)`.
pub fn degrees(tenths: i64, unit: Unit) -> String {
    let plain = |tenths: i64, unit: Unit| {
        let sign = if tenths < 0 { "−" } else { "" };
        format!("{sign}{}.{} {unit}", tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10)
    };
    let celsius: Result<f64, UnitError> = convert(tenths as f64 / 10.0, unit, Unit::Celsius);
    match (unit, celsius) {
        (Unit::Fahrenheit, Ok(celsius)) => format!("{} ({} °C)", plain(tenths, unit), format!("{celsius:.1}").replace('-', "−")),
        _ => plain(tenths, unit),
    }
}

/// The seven days, Monday first.
pub const WEEK: [Weekday; 7] = [Weekday::Mon, Weekday::Tue, Weekday::Wed, Weekday::Thu, Weekday::Fri, Weekday::Sat, Weekday::Sun];

/// Whether a day is one of those of a rule: bit 0 is Monday.
pub fn is_day(weekdays: u8, day: Weekday) -> bool {
    weekdays & bit(day) != 0
}

/// The bit of a weekday: 1 for Monday, 64 for Sunday.
pub fn bit(day: Weekday) -> u8 {
    WEEK.iter().zip(0_u32..).find(|(one, _)| **one == day).map_or(0, |(_, place)| 1 << place)
}

/// The days of a rule in words: `Monday, Tuesday and Wednesday`.
pub fn days(weekdays: u8) -> String {
    let named: Vec<&str> = WEEK.iter().filter(|day| is_day(weekdays, **day)).map(|day| full(*day)).collect();
    match named.split_last() {
        Some((last, [])) => (*last).to_owned(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
        None => "no day".to_owned(),
    }
}

/// A weekday's whole name.
pub fn full(day: Weekday) -> &'static str {
    match day {
        Weekday::Mon => "Monday",
        Weekday::Tue => "Tuesday",
        Weekday::Wed => "Wednesday",
        Weekday::Thu => "Thursday",
        Weekday::Fri => "Friday",
        Weekday::Sat => "Saturday",
        Weekday::Sun => "Sunday",
    }
}
