//! The rehouse board, and how an animal or a cohort is called on this room's pages.

use sqlx::SqliteConnection;

use super::super::model::{HoldSubject, RehouseDuty};
use crate::house::errors::AppError;

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

/// The tag of an animal that lives here, or the code of a cohort.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn subject_label(db: &mut SqliteConnection, subject: HoldSubject) -> Result<String, AppError> {
    let query = match subject {
        HoldSubject::Animal(id) => sqlx::query_scalar("SELECT tag FROM animal WHERE id = ?").bind(id),
        HoldSubject::Cohort(id) => sqlx::query_scalar("SELECT code FROM cohort WHERE id = ?").bind(id),
    };
    Ok(query.fetch_one(db).await?)
}
