//! Duties of a day.

use chrono::NaiveDate;
use serde::de::{DeserializeOwned, Error};
use serde::{Deserialize, Deserializer};
use serde_json::{Map, Value, json};

use super::hazard::{TableRow, table_of};
use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::planner::{AnimalFacts, CohortFacts, RoomFacts, SacFacts, SiteRules, Subject, SubjectKind, explain, plan};

pub(super) const PLANNER: Entry = Entry {
    names: &["planner"],
    about: "the duties that are due or overdue on a day for animals, cohorts, egg sacs and rooms, with reasons",
    input: r#"{"day": "2026-03-08", "subjects": [{"kind": "sac", "id": 3, "laid_on": "2026-02-01", "with_dam": true, "opened": false,
  "last_check": null, "pulled_on": null, "pull": {"from_day": 28, "to_day": 35}, "hazard": {as the facts of "hazard"}}],
 "rules": {"zone": "Europe/London"}, "table": [], "why": false}
kind: "animal" with id, life_stage, span_mm, span_on, hazard, care, enclosure_length_mm, started_on, last_meal {day, outcome: took,
refused, left-in}, refusals_in_row, left_in_at (an instant), last_moult, moult_state, moult_state_since, last_moult_check, last_water,
last_clean, rehoused_on, needs_rehouse {since, reason, emergency}, guarding_sac, holds; "cohort" with id, in_vials, counts {stage: number},
hazard, care, span_mm, started_on, last_meal, left_in_at, last_moult, moulted_then, last_moult_check, last_water, last_clean, last_count,
holds; "sac" as above, with legs_out, last_turn (an instant) and rules {pulled_days, with_dam_days, turns}; "room" with id, racks,
last_reading, since. Animals also: condition {condition: shrunken, lean, good, heavy, obese, day}; they and cohorts: apart [{kind: feed-every,
no-feed, check-every, no-rehouse, days, from, until, reason, by}]; cohorts: count_off {day, by}. What is not known is null or left out. care: feed_min_days, feed_max_days, uneaten_hours, moult_min_days,
moult_max_days, moult_check_days, water_days, clean_days, count_days; it may have fast [{from_mm, min_days, max_days}] and rules
{retry_days, refusals_check, close_check_days, look_after_tenths, settle_min_days, settle_max_days, after_meal_days, after_moult_days,
obese_skip_days, boxes {length_tenths, width_tenths, most_length_tenths, fall_gap_tenths}}, which stand before the house's. rules: zone, agitated_open_hours, agitated_hands_in_days,
refusals_spiderling, refusals_juvenile, refusals_adult, close_check_spiderling_days, close_check_other_days, sac_with_dam_days,
rehouse_after_meal_days, room_reading_days, each with a default. table: as in "hazard". "rules", "table" and "why" may be left out. Lengths
in mm."#,
    output: r#"{"duties": [{"subject": {"kind", "id"}, "kind", "due_on", "late_after", "due_at", "minutes", "exposure", "band", "clearance",
"persons", "reason", "held"}]}: in order of due day, subject and kind; "held" says why a duty must wait. With "why": true also "outlooks": for
each subject {"subject", "duties": [{"kind", "standing", "held", "rules"}]}, where each kind of duty stands and every rule that was weighed"#,
    formula: "A duty falls due so many days after it was last done, moved by moults, meals, holds and the pull window of a sac; at most one duty for a subject and kind.",
    source: "intervals and minutes are common practice, no source",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    day: NaiveDate,
    subjects: Rows<GivenSubject>,
    #[serde(default)]
    rules: SiteRules,
    #[serde(default)]
    table: Rows<TableRow>,
    #[serde(default)]
    why: bool,
}

/// A subject, read so that a fault names the field: serde's own reading of a tagged enum does not.
pub(super) struct GivenSubject(pub(super) Subject);

impl<'de> Deserialize<'de> for GivenSubject {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let mut fields = Map::deserialize(deserializer)?;
        let kind = fields.remove("kind").ok_or_else(|| D::Error::missing_field("kind"))?;
        let kind = SubjectKind::deserialize(kind).map_err(|fault| D::Error::custom(format_args!("kind: {fault}")))?;
        let fields = Value::Object(fields);
        let subject = match kind {
            SubjectKind::Animal => facts::<AnimalFacts, D::Error>(fields)?.into(),
            SubjectKind::Cohort => facts::<CohortFacts, D::Error>(fields)?.into(),
            SubjectKind::Sac => facts::<SacFacts, D::Error>(fields)?.into(),
            SubjectKind::Room => facts::<RoomFacts, D::Error>(fields)?.into(),
        };
        Ok(Self(subject))
    }
}

fn facts<F: DeserializeOwned, E: Error>(fields: Value) -> Result<F, E> {
    serde_path_to_error::deserialize(fields).map_err(|fault| {
        let path = fault.path().to_string();
        if path == "." { E::custom(fault.inner()) } else { E::custom(format_args!("{path}: {}", fault.inner())) }
    })
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let table = table_of(&given.table)?;
    let subjects: Vec<Subject> = given.subjects.0.into_iter().map(|GivenSubject(subject)| subject).collect();
    let duties = plan(given.day, &subjects, &given.rules, &table);
    if given.why {
        let told = |subject: &Subject| {
            let duties = explain(given.day, subject, &given.rules, &table);
            json!({ "subject": subject.key(), "duties": duties })
        };
        let outlooks: Vec<Value> = subjects.iter().map(told).collect();
        return Ok(json!({ "duties": duties, "outlooks": outlooks }));
    }
    Ok(json!({ "duties": duties }))
}
