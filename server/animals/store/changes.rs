//! Changes of the facts on an animal's own row, each against the version that the page showed.

use chrono::NaiveDate;

use crate::house::errors::AppError;
use crate::house::ids::AnimalId;
use crate::house::write::Write;
use crate::reckoning::words::{Sex, SexBasis};

/// Changes the locality and the note. False when the row has changed since `version`, and then nothing is written.
///
/// # Errors
/// The database can't be written.
pub async fn change_note(write: &mut Write, id: AnimalId, version: i64, locality: &str, note: &str) -> Result<bool, AppError> {
    let changed = sqlx::query("UPDATE animal SET locality = ?, note = ?, version = version + 1 WHERE id = ? AND version = ?")
        .bind(locality)
        .bind(note)
        .bind(id)
        .bind(version)
        .execute(write.db())
        .await?;
    Ok(changed.rows_affected() == 1)
}

/// Changes the sex and what it rests on; `mature_on` is the day a mature male was first seen as one. False when the row has
/// changed since `version`.
///
/// # Errors
/// The database can't be written.
pub async fn set_sex(
    write: &mut Write,
    id: AnimalId,
    version: i64,
    sex: (Sex, SexBasis),
    mature_on: Option<NaiveDate>,
) -> Result<bool, AppError> {
    let changed =
        sqlx::query("UPDATE animal SET sex = ?, sex_basis = ?, mature_on = ?, version = version + 1 WHERE id = ? AND version = ?")
            .bind(sex.0)
            .bind(sex.1)
            .bind(mature_on)
            .bind(id)
            .bind(version)
            .execute(write.db())
            .await?;
    Ok(changed.rows_affected() == 1)
}

/// Notes why an animal must be rehoused whatever its size; an empty reason takes the note back. False when the row has changed
/// since `version`, or the animal has left.
///
/// # Errors
/// The database can't be written.
pub async fn needs_rehouse(write: &mut Write, id: AnimalId, version: i64, reason: &str) -> Result<bool, AppError> {
    let changed =
        sqlx::query("UPDATE animal SET rehouse_note = ?, version = version + 1 WHERE id = ? AND version = ? AND status = 'alive'")
            .bind(reason)
            .bind(id)
            .bind(version)
            .execute(write.db())
            .await?;
    Ok(changed.rows_affected() == 1)
}
