//! What belongs to an animal besides its own entries: lineage, open duties, prey that is still in.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use crate::animals::model::list::{Ancestry, OpenDuty};
use crate::house::errors::AppError;
use crate::house::ids::AnimalId;

/// The cohorts that an animal came through, its own first, with the sac of each that has one.
///
/// # Errors
/// The database can't be read.
pub async fn lineage(db: &mut SqliteConnection, id: AnimalId) -> Result<Vec<Ancestry>, AppError> {
    Ok(sqlx::query_as(
        "WITH RECURSIVE line(cohort_id, step) AS (
             SELECT ledger_line.cohort_id, 0 FROM animal JOIN ledger_line ON ledger_line.id = animal.origin_line_id WHERE animal.id = ?
             UNION ALL
             SELECT cohort.parent_cohort_id, step + 1 FROM cohort JOIN line ON cohort.id = line.cohort_id
             WHERE cohort.parent_cohort_id IS NOT NULL AND step < 50
         )
         SELECT cohort.id AS cohort_id, cohort.code, sac.id AS sac_id, sac.laid_on, dam.id AS dam_id, dam.tag AS dam_tag, sac.dam_note,
                sire.id AS sire_id, sire.tag AS sire_tag, sac.sire_note
         FROM line JOIN cohort ON cohort.id = line.cohort_id LEFT JOIN sac ON sac.id = cohort.sac_id
         LEFT JOIN animal AS dam ON dam.id = sac.dam_id LEFT JOIN animal AS sire ON sire.id = sac.sire_id
         ORDER BY line.step",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// The open duties of an animal, the first due first.
///
/// # Errors
/// The database can't be read.
pub async fn open_duties(db: &mut SqliteConnection, id: AnimalId) -> Result<Vec<OpenDuty>, AppError> {
    Ok(sqlx::query_as(
        "SELECT duty.id, duty.kind, duty.due_on, duty.late_after, duty.reason, duty.held, member.name AS assigned
         FROM duty LEFT JOIN member ON member.id = duty.assigned_to
         WHERE duty.animal_id = ? AND duty.state = 'open' ORDER BY duty.due_on, duty.kind",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// The day since which prey has been left in with an animal.
///
/// # Errors
/// The database can't be read.
pub async fn left_in_since(db: &mut SqliteConnection, id: AnimalId) -> Result<Option<NaiveDate>, AppError> {
    Ok(sqlx::query_scalar("SELECT MIN(day) FROM meal_standing WHERE animal_id = ? AND outcome = 'left-in'").bind(id).fetch_one(db).await?)
}
