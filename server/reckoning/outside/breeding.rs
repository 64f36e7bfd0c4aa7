//! Parentage of a sac, and what to expect of it.

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::breeding::{Pairing, SacGroup, expected_stages, parentage};

pub(super) const BREEDING: Entry = Entry {
    names: &["breeding"],
    about: "whose young an egg sac holds, when to pull it, and when its stages are expected",
    input: r#"{"sac_laid": "2026-04-01", "pairings": [{"id": 1, "sire": 7, "on": "2025-11-02"}], "dam_moults": ["2025-08-20"],
"group": "nw-slow"}
group: nw-slow, nw-giant, nw-goliath, nw-arboreal, nw-dwarf, nw-desert, ow-arboreal, ow-african, ow-asian; it may be left out."#,
    output: r#"{"standing": [ids], "void": [ids], "sire": {"outcome": "known", "sire": 7}, "reason", "pull": {"from", "to"},
"expected": [{"stage", "from", "to", "basis"}]}: outcome is known, several-candidates (with "sires"), expected-infertile or not-known;
without a group "pull" is null and "expected" empty"#,
    formula: "A pairing is void once the dam has moulted after it. One male among the pairings that stand is the sire; several are candidates. Days of pulling and of stages count from laying, by group.",
    source: "general references on stored sperm, no single source; day ranges are common practice at 25-28 °C, no source",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    sac_laid: NaiveDate,
    pairings: Rows<Pairing>,
    #[serde(default)]
    dam_moults: Rows<NaiveDate>,
    group: Option<SacGroup>,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let whose = parentage(&given.pairings, &given.dam_moults, given.sac_laid);
    let pull = given.group.map(|group| group.pull_window().days(given.sac_laid)).map(|(from, to)| json!({ "from": from, "to": to }));
    let expected = given.group.map(|group| expected_stages(given.sac_laid, group.stage_days(), group.label())).unwrap_or_default();
    Ok(json!({
        "standing": whose.standing, "void": whose.void, "sire": whose.sire, "reason": whose.reason, "pull": pull, "expected": expected,
    }))
}
