//! The rehouse board, and how an animal or a cohort is called on this room's pages.

use chrono::{DateTime, Utc};
use sqlx::SqliteConnection;

use super::super::model::{BrokenOff, HoldSubject, RehouseDuty, Subject};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, DutyId};

/// Every open rehouse, the riskiest first, then the longest due.
///
/// # Errors
/// The database can't be read.
pub async fn rehouse_board(db: &mut SqliteConnection) -> Result<Vec<RehouseDuty>, AppError> {
    Ok(sqlx::query_as(
        "SELECT duty.id, animal.id AS animal_id, animal.tag, species.accepted_name AS species, place.label AS place, animal_now.span_mm,
                animal.enclosure_length_mm AS length_mm, animal.enclosure_width_mm AS width_mm, due_on, late_after, seconds, band, clearance,
                persons, reason, held, member.name AS assigned_name
         FROM duty
         JOIN animal ON animal.id = duty.animal_id
         JOIN animal_now ON animal_now.animal_id = duty.animal_id
         JOIN species ON species.id = animal.species_id
         LEFT JOIN place ON place.shelf_id = animal.shelf_id
         LEFT JOIN member ON member.id = duty.assigned_to
         WHERE duty.kind = 'rehouse' AND duty.state = 'open'
         ORDER BY band DESC, due_on, animal.tag",
    )
    .fetch_all(db)
    .await?)
}

/// One open rehouse; none when the duty has ended or is something else.
///
/// # Errors
/// The database can't be read.
pub async fn rehouse(db: &mut SqliteConnection, id: DutyId) -> Result<Option<RehouseDuty>, AppError> {
    Ok(sqlx::query_as(
        "SELECT duty.id, animal.id AS animal_id, animal.tag, species.accepted_name AS species, place.label AS place, animal_now.span_mm,
                animal.enclosure_length_mm AS length_mm, animal.enclosure_width_mm AS width_mm, due_on, late_after, seconds, band, clearance,
                persons, reason, held, member.name AS assigned_name
         FROM duty
         JOIN animal ON animal.id = duty.animal_id
         JOIN animal_now ON animal_now.animal_id = duty.animal_id
         JOIN species ON species.id = animal.species_id
         LEFT JOIN place ON place.shelf_id = animal.shelf_id
         LEFT JOIN member ON member.id = duty.assigned_to
         WHERE duty.id = ? AND duty.kind = 'rehouse' AND duty.state = 'open'",
    )
    .bind(id)
    .fetch_optional(db)
    .await?)
}

/// Rehouses that were broken off since an instant and not taken back, the latest first.
///
/// # Errors
/// The database can't be read.
pub async fn broken_off(db: &mut SqliteConnection, since: DateTime<Utc>) -> Result<Vec<BrokenOff>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id AS animal_id, animal.tag, species.accepted_name AS species, member.name AS member_name, signoff.at, signoff.note
         FROM signoff_standing AS signoff
         JOIN duty ON duty.id = signoff.duty_id
         JOIN animal ON animal.id = duty.animal_id
         JOIN species ON species.id = animal.species_id
         JOIN member ON member.id = signoff.member_id
         WHERE signoff.day >= date(?1, '-1 day') AND signoff.outcome = 'aborted' AND signoff.at >= ?1 ORDER BY signoff.at DESC, signoff.id DESC",
    )
    .bind(since)
    .fetch_all(db)
    .await?)
}

/// An animal or a cohort as this room's pages call it.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_subject(db: &mut SqliteConnection, subject: HoldSubject) -> Result<Subject, AppError> {
    let query = match subject {
        HoldSubject::Animal(id) => sqlx::query_as(
            "SELECT tag AS label, species.accepted_name AS species, status = 'alive' AS here, animal.id AS animal_id, NULL AS cohort_id
             FROM animal JOIN species ON species.id = species_id WHERE animal.id = ?",
        )
        .bind(id),
        HoldSubject::Cohort(id) => sqlx::query_as(
            "SELECT code AS label, species.accepted_name AS species, 1 AS here, NULL AS animal_id, cohort.id AS cohort_id
             FROM cohort JOIN species ON species.id = species_id WHERE cohort.id = ?",
        )
        .bind(id),
    };
    Ok(query.fetch_one(db).await?)
}

/// What an animal or cohort a duty is about; a sac's duty is about neither.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such duty.
pub async fn subject_of_duty(db: &mut SqliteConnection, id: DutyId) -> Result<Option<HoldSubject>, AppError> {
    let (animal, cohort): (Option<AnimalId>, Option<CohortId>) =
        sqlx::query_as("SELECT animal_id, cohort_id FROM duty WHERE id = ?").bind(id).fetch_one(db).await?;
    Ok(animal.map(HoldSubject::Animal).or(cohort.map(HoldSubject::Cohort)))
}
