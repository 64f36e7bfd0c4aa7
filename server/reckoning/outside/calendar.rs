//! Local days.

use chrono::SecondsFormat;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, run};
use crate::reckoning::ReckonError;
use crate::reckoning::calendar::{CalendarError, local_day};

pub(super) const CALENDAR: Entry = Entry {
    names: &["calendar"],
    about: "when a local day begins and how long it is, also where clocks change",
    input: r#"{"zone": "Europe/London", "date": "2026-03-29"}: an IANA zone name and a date"#,
    output: r#"{"start_utc": "2026-03-29T00:00:00Z", "hours": 23.0}: its first instant (UTC) and its length (hours)"#,
    formula: "The day starts at the first instant whose local date is that date, and lasts until the next day that exists starts.",
    source: "IANA time zone data",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    zone: String,
    date: String,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let day = local_day(&given.zone, &given.date).map_err(|error| {
        let field = if matches!(error, CalendarError::UnknownZone(_)) { "zone" } else { "date" };
        ReckonError::field(field, error)
    })?;
    Ok(json!({ "start_utc": day.start.to_rfc3339_opts(SecondsFormat::AutoSi, true), "hours": day.hours }))
}
