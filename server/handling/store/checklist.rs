//! The lines that a house adds to the list before a rehouse.

use sqlx::SqliteConnection;

use crate::handling::model::ChecklistLine;
use crate::house::errors::AppError;
use crate::house::ids::ChecklistLineId;
use crate::house::write::Write;

/// Every line that was ever added, standing ones first, the oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn checklist_lines(db: &mut SqliteConnection) -> Result<Vec<ChecklistLine>, AppError> {
    Ok(sqlx::query_as(
        "SELECT checklist_line.id, text, from_band, adder.name AS added_by_name, added_at, retirer.name AS retired_by_name, retired_at
         FROM checklist_line
         LEFT JOIN member AS adder ON adder.id = added_by
         LEFT JOIN member AS retirer ON retirer.id = retired_by
         ORDER BY retired_at IS NOT NULL, checklist_line.id",
    )
    .fetch_all(db)
    .await?)
}

/// The house's own lines for a rehouse of a band.
///
/// # Errors
/// The database can't be read.
pub async fn house_lines(db: &mut SqliteConnection, band: i64) -> Result<Vec<String>, AppError> {
    Ok(sqlx::query_scalar("SELECT text FROM checklist_line WHERE retired_at IS NULL AND from_band <= ? ORDER BY id")
        .bind(band)
        .fetch_all(db)
        .await?)
}

/// Adds a line.
///
/// # Errors
/// A mistake when such a line stands already.
pub async fn add_checklist_line(write: &mut Write, text: &str, from_band: i64) -> Result<ChecklistLineId, AppError> {
    let (who, at) = (write.who, write.at);
    let standing: bool = sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM checklist_line WHERE text = ? AND retired_at IS NULL)")
        .bind(text)
        .fetch_one(write.db())
        .await?;
    if standing {
        return Err(AppError::refused("text", "This line is on the list already."));
    }
    Ok(sqlx::query_scalar("INSERT INTO checklist_line (text, from_band, added_by, added_at) VALUES (?, ?, ?, ?) RETURNING id")
        .bind(text)
        .bind(from_band)
        .bind(who)
        .bind(at)
        .fetch_one(write.db())
        .await?)
}

/// Takes a line off the list; sign-offs keep it as it was ticked. Gives its words.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such line; a conflict when it was retired before.
pub async fn retire_checklist_line(write: &mut Write, id: ChecklistLineId) -> Result<String, AppError> {
    let (who, at) = (write.who, write.at);
    let text: String = sqlx::query_scalar("SELECT text FROM checklist_line WHERE id = ?").bind(id).fetch_one(write.db()).await?;
    let retired = sqlx::query("UPDATE checklist_line SET retired_at = ?, retired_by = ? WHERE id = ? AND retired_at IS NULL")
        .bind(at)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    if retired.rows_affected() == 0 {
        return Err(AppError::conflict("This line was taken off the list already."));
    }
    Ok(text)
}
