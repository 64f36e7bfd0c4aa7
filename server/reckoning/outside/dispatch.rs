//! Whether a parcel may go on a day.

use chrono::{NaiveDate, Weekday};
use serde::Deserialize;

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::dispatch::{DispatchError, Forecast, Journey, Rules, Verdict, bit, dispatch};
use crate::reckoning::units::Unit;

pub(super) const DISPATCH: Entry = Entry {
    names: &["dispatch"],
    about: "whether a parcel may go on a day, by the forecast at both ends and the weekday, with the reasons against it",
    input: r#"{"day": "2026-04-13", "unit": "f", "here": {"low": 48, "high": 61.5}, "there": {"low": 40, "high": 70},
  "rules": {"lowest_c": 5, "highest_c": 30, "pack_below_c": 10, "pack_judge_c": 15, "weekdays": ["mon", "tue", "wed"]}}
Temperatures with at most one decimal place, in "c" (so without "unit") or "f"; those of the rules in °C. What is left out of the rules is as above."#,
    output: r#"{"may_go": false, "findings": [{"blocks": true, "text"}], "heat_pack": "none", "judge" or "needed", "summary"}"#,
    formula: "No dispatch when either end forecasts below lowest_c or above highest_c, or on another weekday. A heat pack below pack_below_c, and by judgement up to pack_judge_c. t/°C = (t/°F − 32)/1.8, compared in whole numbers.",
    source: "common practice, no source (sellers' published terms hold below 40 °F and above 80 to 90 °F); units: NIST SP 811, appendix B",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    day: NaiveDate,
    #[serde(default = "celsius")]
    unit: Unit,
    here: Ends,
    there: Ends,
    #[serde(default)]
    rules: GivenRules,
}

fn celsius() -> Unit {
    Unit::Celsius
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Ends {
    low: f64,
    high: f64,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct GivenRules {
    lowest_c: Option<f64>,
    highest_c: Option<f64>,
    pack_below_c: Option<f64>,
    pack_judge_c: Option<f64>,
    weekdays: Option<Rows<Weekday>>,
}

fn reckon(given: Given) -> Result<Verdict, ReckonError> {
    let usual = Rules::default();
    let rule = |field: &str, given: Option<f64>, usual: i64| given.map_or(Ok(usual), |degrees| tenths(&format!("rules.{field}"), degrees));
    let rules = Rules {
        lowest: rule("lowest_c", given.rules.lowest_c, usual.lowest)?,
        highest: rule("highest_c", given.rules.highest_c, usual.highest)?,
        pack_below: rule("pack_below_c", given.rules.pack_below_c, usual.pack_below)?,
        pack_judge: rule("pack_judge_c", given.rules.pack_judge_c, usual.pack_judge)?,
        weekdays: given.rules.weekdays.map_or(usual.weekdays, |days| days.iter().fold(0, |bits, day| bits | bit(*day))),
    };
    let forecast = |end: &str, ends: &Ends| {
        Ok::<_, ReckonError>(Forecast { low: tenths(&format!("{end}.low"), ends.low)?, high: tenths(&format!("{end}.high"), ends.high)? })
    };
    let journey =
        Journey { day: given.day, unit: given.unit, here: forecast("here", &given.here)?, there: forecast("there", &given.there)? };
    dispatch(&journey, &rules).map_err(|error| match error {
        DispatchError::NotATemperature(_) => ReckonError::field("unit", error),
        DispatchError::UpsideDown => ReckonError::input(error),
    })
}

/// A temperature in tenths of a degree.
fn tenths(field: &str, degrees: f64) -> Result<i64, ReckonError> {
    let tenths = (degrees * 10.0).round();
    if !(-1000.0..=2000.0).contains(&tenths) {
        return Err(ReckonError::field(field, "must be a temperature from -100 to 200"));
    }
    if (degrees * 10.0 - tenths).abs() > 1e-6 {
        return Err(ReckonError::field(field, "has more than one decimal place"));
    }
    // In the range above, so it is a whole number of few figures.
    Ok(tenths as i64)
}
