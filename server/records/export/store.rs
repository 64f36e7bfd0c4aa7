//! All SQL of the export.

mod families;

use futures_util::stream::BoxStream;
use sqlx::sqlite::SqliteRow;
use sqlx::{Column as _, Executor as _, SqliteConnection, Statement as _};

/// Every file of the export.
pub fn files() -> impl Iterator<Item = (&'static str, &'static str)> {
    FILES.into_iter().chain(families::FILES)
}

/// Each file's name and what stands in it; breeding, outings and papers have theirs in a file of their own.
const FILES: [(&str, &str); 17] = [
    ("species", SPECIES),
    ("animals", ANIMALS),
    ("cohorts", COHORTS),
    ("ledger", LEDGER),
    ("meals", MEALS),
    ("cohort-meals", COHORT_MEALS),
    ("prey", PREY),
    ("moults", MOULTS),
    ("measurements", MEASUREMENTS),
    ("conditions", CONDITIONS),
    ("rules-set-apart", SET_APART),
    ("sign-offs", SIGNOFFS),
    ("incidents", INCIDENTS),
    ("handovers", HANDOVERS),
    ("documents", DOCUMENTS),
    ("stock-statements", STATEMENTS),
    ("readings", READINGS),
];

const SPECIES: &str = "SELECT accepted_name, authority, subfamily, world, range, habit, moisture, adult_span_min_mm, adult_span_max_mm,
        setae, setae_note, venom, venom_basis, defensive, very_fast, temper, communal, pace, clutch_min, clutch_max,
        pull_from_day, pull_to_day, breeding_basis, law_note
     FROM species ORDER BY accepted_name";

const ANIMALS: &str = "SELECT animal.tag, species.accepted_name AS species, animal.sex, animal.sex_basis, now.span_mm AS dls_mm,
        'i' || (animal.start_instar + (SELECT COUNT(*) FROM moult_standing AS m
                                       WHERE m.animal_id = animal.id AND m.day >= animal.started_on)) AS stage,
        animal.born_on, animal.started_on AS acquired_on, animal.supplier, animal.papers,
        animal.source_code || CASE animal.pre_convention WHEN 1 THEN '/O' ELSE '' END AS source_code, animal.locality,
        place.room_name AS room, place.rack_name AS rack, place.shelf_number AS shelf, animal.position,
        now.last_moult_on AS last_moult,
        (SELECT MAX(day) FROM meal_standing WHERE meal_standing.animal_id = animal.id AND outcome = 'took') AS last_meal, animal.note,
        animal.status, animal.status_on, animal.loss_cause, cohort.code AS from_cohort
     FROM animal JOIN species ON species.id = animal.species_id JOIN animal_now AS now ON now.animal_id = animal.id
     LEFT JOIN place ON place.shelf_id = animal.shelf_id
     LEFT JOIN ledger_line ON ledger_line.id = animal.origin_line_id LEFT JOIN cohort ON cohort.id = ledger_line.cohort_id
     ORDER BY animal.tag";

const COHORTS: &str =
    "SELECT cohort.code, species.accepted_name AS species, cohort.origin, cohort.started_on, cohort.supplier, cohort.papers,
        cohort.source_code || CASE cohort.pre_convention WHEN 1 THEN '/O' ELSE '' END AS source_code, cohort.locality,
        cohort.housing, cohort.separated_on, place.room_name AS room, place.rack_name AS rack, place.shelf_number AS shelf,
        cohort.position, cohort.span_mm, cohort.note,
        (SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
         WHERE ledger_balance.cohort_id = cohort.id AND bucket.kind = 'stage') AS alive
     FROM cohort JOIN species ON species.id = cohort.species_id LEFT JOIN place ON place.shelf_id = cohort.shelf_id
     ORDER BY cohort.code";

const LEDGER: &str = "SELECT ledger_line.id, cohort.code AS cohort, ledger_line.day, ledger_line.kind, ledger_line.from_bucket,
        ledger_line.to_bucket, ledger_line.quantity, ledger_line.cause, ledger_line.reverses_id AS reverses, ledger_line.note,
        member.name AS member, ledger_line.at
     FROM ledger_line JOIN cohort ON cohort.id = ledger_line.cohort_id LEFT JOIN member ON member.id = ledger_line.member_id
     ORDER BY ledger_line.id";

const MEALS: &str =
    "SELECT meal.id, animal.tag, meal.day, meal.prey, meal.outcome, meal.corrects_id AS corrects, meal.void, member.name AS member, meal.at
     FROM meal JOIN animal ON animal.id = meal.animal_id LEFT JOIN member ON member.id = meal.member_id ORDER BY meal.id";

const COHORT_MEALS: &str =
    "SELECT cohort_meal.id, cohort.code AS cohort, cohort_meal.day, cohort_meal.prey, cohort_meal.took, cohort_meal.refused,
        cohort_meal.left_in, cohort_meal.corrects_id AS corrects, cohort_meal.void, member.name AS member, cohort_meal.at
     FROM cohort_meal JOIN cohort ON cohort.id = cohort_meal.cohort_id LEFT JOIN member ON member.id = cohort_meal.member_id
     ORDER BY cohort_meal.id";

const PREY: &str = "SELECT prey_line.id, kind.name AS prey, kind.size, kind.length_mm, prey_line.day, prey_line.what, prey_line.quantity,
        prey_line.counted, prey_line.cost_minor, prey_line.reverses_id AS reverses, prey_line.note, member.name AS member, prey_line.at
     FROM prey_line JOIN prey_kind AS kind ON kind.id = prey_line.kind_id LEFT JOIN member ON member.id = prey_line.member_id
     ORDER BY prey_line.id";

const MOULTS: &str = "SELECT moult.id, animal.tag, moult.day, moult.skin_kept, moult.note, moult.corrects_id AS corrects, moult.void,
        member.name AS member, moult.at
     FROM moult JOIN animal ON animal.id = moult.animal_id LEFT JOIN member ON member.id = moult.member_id ORDER BY moult.id";

const CONDITIONS: &str = "SELECT body_condition.id, animal.tag, body_condition.day, body_condition.condition,
        body_condition.abdomen_tenths / 10.0 AS abdomen_mm, body_condition.carapace_tenths / 10.0 AS carapace_mm,
        body_condition.corrects_id AS corrects, body_condition.void, member.name AS member, body_condition.at
     FROM body_condition JOIN animal ON animal.id = body_condition.animal_id LEFT JOIN member ON member.id = body_condition.member_id
     ORDER BY body_condition.id";

const SET_APART: &str = "SELECT set_apart.id, animal.tag, cohort.code AS cohort, set_apart.kind, set_apart.days, set_apart.from_on,
        set_apart.until_on, set_apart.reason, member.name AS member, set_apart.at, ended.at AS ended_at, ended.reason AS end_reason
     FROM set_apart LEFT JOIN animal ON animal.id = set_apart.animal_id LEFT JOIN cohort ON cohort.id = set_apart.cohort_id
     JOIN member ON member.id = set_apart.member_id LEFT JOIN set_apart_end AS ended ON ended.set_apart_id = set_apart.id
     ORDER BY set_apart.id";

const MEASUREMENTS: &str = "SELECT measurement.id, animal.tag, measurement.day, measurement.kind, measurement.mm, measurement.method,
        measurement.corrects_id AS corrects, measurement.void, member.name AS member, measurement.at
     FROM measurement JOIN animal ON animal.id = measurement.animal_id LEFT JOIN member ON member.id = measurement.member_id
     ORDER BY measurement.id";

const SIGNOFFS: &str =
    "SELECT signoff.id, duty.kind AS duty, animal.tag, cohort.code AS cohort, duty.sac_id AS sac, signoff.day, signoff.at,
        signoff.outcome, signoff.note, signoff.checklist, first.name AS member, second.name AS second, signoff.clearance, signoff.persons,
        signoff.corrects_id AS corrects
     FROM signoff JOIN duty ON duty.id = signoff.duty_id JOIN member AS first ON first.id = signoff.member_id
     LEFT JOIN member AS second ON second.id = signoff.second_id
     LEFT JOIN animal ON animal.id = duty.animal_id LEFT JOIN cohort ON cohort.id = duty.cohort_id
     ORDER BY signoff.id";

const INCIDENTS: &str = "SELECT id, kind, day, at, member_name AS member, label, species, reviewed_at, reviewed_by_name AS reviewed_by
     FROM incident_now ORDER BY id";

const READINGS: &str =
    "SELECT reading.id, room.name AS room, rack.name AS rack, reading.at, reading.day, reading.decicelsius, reading.humidity,
        member.name AS member, reading.corrects_id AS corrects
     FROM climate_reading AS reading JOIN room ON room.id = reading.room_id LEFT JOIN rack ON rack.id = reading.rack_id
     LEFT JOIN member ON member.id = reading.member_id
     ORDER BY reading.id";

const DOCUMENTS: &str = "SELECT document.id, animal.tag, cohort.code AS cohort, document.kind, document.number, document.issuer,
        document.dated_on, document.note, member.name AS member, struck.why AS struck_out
     FROM origin_document AS document JOIN member ON member.id = document.made_by
     LEFT JOIN animal ON animal.id = document.animal_id LEFT JOIN cohort ON cohort.id = document.cohort_id
     LEFT JOIN origin_document_struck AS struck ON struck.document_id = document.id
     ORDER BY document.id";

const STATEMENTS: &str = "SELECT statement.id, species.accepted_name AS species, statement.line, statement.grounds, statement.why,
        statement.stated_on, member.name AS member, statement.withdrawn_why
     FROM stock_statement AS statement JOIN species ON species.id = statement.species_id JOIN member ON member.id = statement.stated_by
     ORDER BY statement.id";

const HANDOVERS: &str = "SELECT handover.id, handover.state, handover.day, animal.tag, cohort.code AS cohort, handover_line.stage,
        handover_line.quantity, paper.number AS paper, paper.fingerprint, handover.override_reason
     FROM handover LEFT JOIN handover_line ON handover_line.handover_id = handover.id
     LEFT JOIN animal ON animal.id = handover_line.animal_id LEFT JOIN cohort ON cohort.id = handover_line.cohort_id
     LEFT JOIN paper ON paper.handover_line_id = handover_line.id AND paper.kind = 'care-sheet'
     ORDER BY handover.id, handover_line.id";

/// The names of a statement's columns, also when it gives no row.
pub async fn column_names(db: &mut SqliteConnection, statement: &'static str) -> sqlx::Result<Vec<String>> {
    let prepared = db.prepare(sqlx::SqlStr::from_static(statement)).await?;
    Ok(prepared.columns().iter().map(|column| column.name().to_owned()).collect())
}

/// The rows that a statement of [`files`] gives, one by one.
pub(super) fn rows<'a>(db: &'a mut SqliteConnection, statement: &'static str) -> BoxStream<'a, sqlx::Result<SqliteRow>> {
    sqlx::query(statement).fetch(db)
}
