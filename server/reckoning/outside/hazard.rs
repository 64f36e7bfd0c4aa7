//! Hazard bands and what they require.

use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::hazard::{Band, ExposureTable, HazardFacts, Requirement, assess, cautions_text, rehouse_checklist};
use crate::reckoning::words::Exposure;

pub(super) const HAZARD: Entry = Entry {
    names: &["hazard"],
    about: "the hazard band of an animal with its reasons, and what it requires of people",
    input: r#"{"facts": {"venom": "moderate", "setae": "kicked", "defensive": true, "very_fast": false, "adult_span_max_mm": 160,
  "life_stage": "adult", "cautions": [{"level": 2, "text": "struck at the forceps"}]},
 "table": [{"band": 2, "exposure": "open", "clearance": 2, "persons": 1}]}
venom: mild, moderate, significant. setae: none, contact, kicked, severe, palps, unverified. life_stage: spiderling, juvenile, adult.
The span is the largest usual one of adults, in mm. "cautions" may be left out, and so may "table": where a house asks for more."#,
    output: r#"{"band": 0 to 3, "word", "reasons": [...], "requires": {"look"|"open"|"hands-in": {"clearance": 0 to 3, "persons": 1 or 2}},
"cautions": what to know before opening, "checklist": what to have at hand before a rehouse}"#,
    formula: "Significant venom is band 3 and moderate venom band 2 at every life stage. With mild venom, setae, adults of 200 mm and more, or being both defensive and very fast give band 1 from juvenile on. A caution raises the band and never lowers it.",
    source: "venom classes after the cramp rates in 363 published bites (Hauke & Herzig 2021); the rest is common practice, no source",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    facts: HazardFacts,
    #[serde(default)]
    table: Rows<TableRow>,
}

/// Where a house asks for more than the usual.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TableRow {
    band: Band,
    exposure: Exposure,
    clearance: u8,
    persons: u8,
}

/// The table of a house.
pub(super) fn table_of(rows: &[TableRow]) -> Result<ExposureTable, ReckonError> {
    let mut table = ExposureTable::default();
    for (at, TableRow { band, exposure, clearance, persons }) in rows.iter().copied().enumerate() {
        let asked = Requirement { clearance, persons };
        table.tighten(band, exposure, asked).map_err(|error| ReckonError::field(format!("table[{at}]"), error))?;
    }
    Ok(table)
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let table = table_of(&given.table)?;
    let hazard = assess(&given.facts);
    let requires: Map<String, Value> =
        Exposure::ALL.iter().map(|exposure| (exposure.code().to_owned(), json!(table.required(hazard.band, *exposure)))).collect();
    Ok(json!({
        "band": hazard.band, "word": hazard.band.word(), "reasons": hazard.reasons, "requires": requires,
        "cautions": cautions_text(&given.facts), "checklist": rehouse_checklist(&given.facts),
    }))
}
