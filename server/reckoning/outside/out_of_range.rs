//! Racks out of the climate that their species need.

use chrono_tz::Tz;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::climate::band::{BandError, ClimateBand, needed_band};
use crate::reckoning::climate::watch::{Reading, Rule, WatchError, out_of_range};

pub(super) const OUT_OF_RANGE: Entry = Entry {
    names: &["out_of_range"],
    about: "since when a rack has been out of the climate that its species need, and which species can't share it",
    input: r#"{"bands": [{"species": "Brachypelma hamorii", "celsius": [22, 28], "humidity": [60, 75]}],
"readings": [{"at": "2026-03-03T14:00:00Z", "celsius": 20.5, "humidity": null}], "celsius_margin": 0.5, "humidity_margin": 3, "zone": "Europe/London"}
°C and % relative humidity; the margins and "zone" (UTC) may be left out."#,
    output: r#"{"needed": {"celsius", "humidity"}: the band that suits all and which species sets each limit, or the clash,
"celsius", "humidity": {"standing", "since", "last", "last_at", "told"}, "spells": [{"quantity", "standing", "from", "until", "worst", "readings"}]}"#,
    formula: "The band is common to all species: highest of the lowest to lowest of the highest. A reading outside it is out; back is a reading inside by the margin, or by half the band if that is less.",
    source: "hysteresis, margins of 0.5 °C and 3 %: common practice, no source",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    bands: Rows<Needs>,
    readings: Rows<Reading>,
    celsius_margin: Option<f64>,
    humidity_margin: Option<f64>,
    zone: Option<Tz>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Needs {
    species: String,
    celsius: (f64, f64),
    humidity: (f64, f64),
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let band = |needs: &Needs| ClimateBand { celsius: needs.celsius, humidity: needs.humidity };
    let bands: Vec<(&str, ClimateBand)> = given.bands.iter().map(|needs| (needs.species.as_str(), band(needs))).collect();
    let needed = needed_band(&bands).map_err(|error| {
        let field = match &error {
            BandError::Limits { index, quantity, .. } => format!("bands[{index}].{}", quantity.code()),
            BandError::NoSpecies => "bands".to_owned(),
        };
        ReckonError::field(field, error)
    })?;
    let usual = Rule::default();
    let rule = Rule {
        celsius_margin: given.celsius_margin.unwrap_or(usual.celsius_margin),
        humidity_margin: given.humidity_margin.unwrap_or(usual.humidity_margin),
    };
    let found = out_of_range(&given.readings, &needed, rule, given.zone.unwrap_or(Tz::UTC)).map_err(|error| {
        let field = match &error {
            WatchError::Reading { index, quantity, .. } => format!("readings[{index}].{}", quantity.code()),
            WatchError::Margin { quantity, .. } => format!("{}_margin", quantity.code()),
        };
        ReckonError::field(field, error)
    })?;
    Ok(json!({ "needed": needed, "celsius": found.celsius, "humidity": found.humidity, "spells": found.spells }))
}
