//! The rehouse board, and how an animal or a cohort is called on this room's pages.

use sqlx::SqliteConnection;

use super::super::model::{HoldSubject, RehouseDuty, Subject};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, DutyId};

/// Every open rehouse, the riskiest first, then the longest due.
///
/// # Errors
/// The database can't be read.
pub async fn rehouse_board(db: &mut SqliteConnection) -> Result<Vec<RehouseDuty>, AppError> {
    Ok(sqlx::query_as(
        "SELECT duty.id, animal.id AS animal_id, animal.tag, species.accepted_name AS species, place.label AS place, due_on, band, clearance,
                persons, reason, held, member.name AS assigned_name
         FROM duty
         JOIN animal ON animal.id = duty.animal_id
         JOIN species ON species.id = animal.species_id
         LEFT JOIN place ON place.shelf_id = animal.shelf_id
         LEFT JOIN member ON member.id = duty.assigned_to
         WHERE duty.kind = 'rehouse' AND duty.state = 'open'
         ORDER BY band DESC, due_on, animal.tag",
    )
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
