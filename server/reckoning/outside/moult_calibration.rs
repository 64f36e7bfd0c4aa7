//! How honest past forecasts of moults were.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::moult::calibration::{Outcomes, SpeciesLog, calibrate};
use crate::reckoning::moult::history::{History, Moult};
use crate::reckoning::words::LifeStage;

pub(super) const MOULT_CALIBRATION: Entry = Entry {
    names: &["moult_calibration"],
    about: "how many of the 80 % windows held that would have been forecast for the moults of a log",
    input: r#"{"today": "2026-03-31", "species": [{"species": "Brachypelma hamorii", "usual": {"spiderling": [30, 60], "juvenile": [90, 180]},
"animals": [{"moults": [{"on": "2026-01-02", "recorded_on": "2026-01-03", "stage": "spiderling"}], "left_on": null}]}]}
"usual" in days between moults; "stage" is that after the moult: spiderling, juvenile, adult. "recorded_on" (the day itself) and "left_on"
(still here) may be left out."#,
    output: r#"{"species": [{"species", "closed", "inside", "early", "late", "open", "left", "share": {"value", "low", "high"} or null, "told"}], "total": the same}
numbers of forecasts; closed = inside + early + late; left: the animal died or left before the window closed; share from 0 to 1 with its 95 % interval"#,
    formula: "Each moult is forecast as of the day it was written down, from what had been written down by then. A forecast is judged once its window has closed, if the next moult had not come when it was made.",
    source: "share: Wilson 1927, J. Am. Stat. Assoc. 22: 209-212; the rest by definition",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    today: NaiveDate,
    species: Rows<Species>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Species {
    species: String,
    usual: BTreeMap<LifeStage, (u32, u32)>,
    animals: Rows<Animal>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Animal {
    moults: Rows<Seen>,
    left_on: Option<NaiveDate>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Seen {
    on: NaiveDate,
    recorded_on: Option<NaiveDate>,
    stage: LifeStage,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let Rows(species) = given.species;
    let logs: Vec<SpeciesLog> = species.into_iter().map(Species::log).collect();
    let found = calibrate(&logs, given.today).map_err(|error| ReckonError::field("species", error))?;
    let species: Vec<Value> = found
        .species
        .iter()
        .map(|(name, outcomes)| {
            let mut shown = show(outcomes);
            if let Some(fields) = shown.as_object_mut() {
                fields.insert("species".to_owned(), json!(name));
            }
            shown
        })
        .collect();
    Ok(json!({ "species": species, "total": show(&found.total) }))
}

fn show(outcomes: &Outcomes) -> Value {
    json!({
        "closed": outcomes.closed(), "inside": outcomes.inside, "early": outcomes.early, "late": outcomes.late,
        "open": outcomes.open, "left": outcomes.left, "share": outcomes.share(), "told": outcomes.told(),
    })
}

impl Species {
    fn log(self) -> SpeciesLog {
        let Rows(animals) = self.animals;
        SpeciesLog { species: self.species, usual: self.usual, histories: animals.into_iter().map(Animal::history).collect() }
    }
}

impl Animal {
    fn history(self) -> History {
        let moult = |seen: &Seen| Moult { on: seen.on, recorded_on: seen.recorded_on.unwrap_or(seen.on), stage: seen.stage };
        History::new(self.moults.iter().map(moult).collect(), self.left_on)
    }
}
