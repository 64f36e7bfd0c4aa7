//! Cautions about one animal.

use sqlx::SqliteConnection;

use super::super::model::Caution;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CautionId};
use crate::house::write::Write;

/// The cautions that stand on an animal, highest first.
///
/// # Errors
/// The database can't be read.
pub async fn cautions_of(db: &mut SqliteConnection, animal: AnimalId) -> Result<Vec<Caution>, AppError> {
    Ok(sqlx::query_as(
        "SELECT caution.id, animal_id, animal.tag, level, text, member.name AS member_name, at, ended_at
         FROM caution JOIN animal ON animal.id = animal_id LEFT JOIN member ON member.id = caution.member_id
         WHERE animal_id = ? AND ended_at IS NULL ORDER BY level DESC, caution.id",
    )
    .bind(animal)
    .fetch_all(db)
    .await?)
}

/// Every caution that stands on an animal that lives here, highest first.
///
/// # Errors
/// The database can't be read.
pub async fn all_cautions(db: &mut SqliteConnection) -> Result<Vec<Caution>, AppError> {
    Ok(sqlx::query_as(
        "SELECT caution.id, animal_id, animal.tag, level, text, member.name AS member_name, at, ended_at
         FROM caution JOIN animal ON animal.id = animal_id LEFT JOIN member ON member.id = caution.member_id
         WHERE ended_at IS NULL AND animal.status = 'alive' ORDER BY level DESC, animal.tag, caution.id",
    )
    .fetch_all(db)
    .await?)
}

/// One caution, standing or ended.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_caution(db: &mut SqliteConnection, id: CautionId) -> Result<Caution, AppError> {
    Ok(sqlx::query_as(
        "SELECT caution.id, animal_id, animal.tag, level, text, member.name AS member_name, at, ended_at
         FROM caution JOIN animal ON animal.id = animal_id LEFT JOIN member ON member.id = caution.member_id WHERE caution.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// Adds a caution. It raises the animal's band to its level and never lowers it.
///
/// # Errors
/// The database can't be written.
pub async fn add_caution(write: &mut Write, animal: AnimalId, level: i64, text: &str) -> Result<CautionId, AppError> {
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar("INSERT INTO caution (animal_id, level, text, member_id, at) VALUES (?, ?, ?, ?, ?) RETURNING id")
        .bind(animal)
        .bind(level)
        .bind(text)
        .bind(who)
        .bind(at)
        .fetch_one(write.db())
        .await?)
}

/// Ends a caution.
///
/// # Errors
/// A conflict when somebody ended it before.
pub async fn end_caution(write: &mut Write, id: CautionId) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let ended = sqlx::query("UPDATE caution SET ended_at = ?, ended_by = ? WHERE id = ? AND ended_at IS NULL")
        .bind(at)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    if ended.rows_affected() == 0 {
        return Err(AppError::conflict("This caution has been ended already."));
    }
    Ok(())
}
