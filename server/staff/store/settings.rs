//! SQL that changes the settings of the house; `house::site` reads them.

use crate::house::errors::AppError;
use crate::house::write::Write;
use crate::staff::model::Settings;

/// Stores the settings over the given version.
///
/// # Errors
/// A conflict when somebody else changed them meanwhile.
pub async fn update(write: &mut Write, version: i64, new: &Settings) -> Result<(), AppError> {
    let changed = sqlx::query(
        "UPDATE site SET name = ?, address = ?, zone = ?, emergency = ?, agitated_open_hours = ?, agitated_hands_in_days = ?,
                version = version + 1
         WHERE id = 1 AND version = ?",
    )
    .bind(&new.name)
    .bind(&new.address)
    .bind(new.zone.name())
    .bind(&new.emergency)
    .bind(new.agitated_open_hours)
    .bind(new.agitated_hands_in_days)
    .bind(version)
    .execute(write.db())
    .await?;
    if changed.rows_affected() == 1 {
        return Ok(());
    }
    Err(AppError::conflict("Somebody else changed the settings meanwhile."))
}
