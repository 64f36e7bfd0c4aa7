//! The house's text on safe work by version, and who has confirmed reading which.

use sqlx::SqliteConnection;

use crate::handling::model::{Reader, SafeWorkText};
use crate::house::errors::AppError;
use crate::house::ids::MemberId;
use crate::house::write::Write;

/// Every version, the current one first.
///
/// # Errors
/// The database can't be read.
pub async fn safe_work_texts(db: &mut SqliteConnection) -> Result<Vec<SafeWorkText>, AppError> {
    Ok(sqlx::query_as(
        "SELECT safe_work_text.version, text, member.name AS member_name, at FROM safe_work_text
         LEFT JOIN member ON member.id = safe_work_text.member_id ORDER BY safe_work_text.version DESC",
    )
    .fetch_all(db)
    .await?)
}

/// The current version.
///
/// # Errors
/// The database can't be read.
pub async fn safe_work_text(db: &mut SqliteConnection) -> Result<SafeWorkText, AppError> {
    safe_work_texts(db).await?.into_iter().next().ok_or(AppError::NotFound)
}

/// Writes the next version; everybody has it to read.
///
/// # Errors
/// A conflict when the text that was changed is no longer the current one.
pub async fn add_safe_work_text(write: &mut Write, changed: i64, text: &str) -> Result<i64, AppError> {
    let (who, at) = (write.who, write.at);
    let version: Option<i64> = sqlx::query_scalar(
        "INSERT INTO safe_work_text (version, text, member_id, at)
         SELECT ?1 + 1, ?2, ?3, ?4 WHERE (SELECT MAX(version) FROM safe_work_text) = ?1 RETURNING version",
    )
    .bind(changed)
    .bind(text)
    .bind(who)
    .bind(at)
    .fetch_optional(write.db())
    .await?;
    version.ok_or_else(|| AppError::conflict("Somebody has changed this text meanwhile. Open it again and enter your change there."))
}

/// Confirms that whoever writes has read a version. Once is enough.
///
/// # Errors
/// A conflict when it is no longer the current one.
pub async fn confirm_read(write: &mut Write, version: i64) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    if safe_work_text(write.db()).await?.version != version {
        return Err(AppError::conflict("There is a newer version of this text. Open it and read that one."));
    }
    sqlx::query("INSERT INTO safe_work_read (member_id, version, at) VALUES (?, ?, ?) ON CONFLICT DO NOTHING")
        .bind(who)
        .bind(version)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Whether somebody has confirmed reading the current version.
///
/// # Errors
/// The database can't be read.
pub async fn has_read_current(db: &mut SqliteConnection, member: MemberId) -> Result<bool, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT EXISTS (SELECT 1 FROM safe_work_read WHERE member_id = ? AND version = (SELECT MAX(version) FROM safe_work_text))",
    )
    .bind(member)
    .fetch_one(db)
    .await?)
}

/// Everybody who looks after animals here, with what they have read, by name.
///
/// # Errors
/// The database can't be read.
pub async fn readers(db: &mut SqliteConnection) -> Result<Vec<Reader>, AppError> {
    Ok(sqlx::query_as(
        "SELECT member.id, member.name, latest.version, latest.at FROM member
         LEFT JOIN safe_work_read AS latest ON latest.member_id = member.id
              AND latest.version = (SELECT MAX(version) FROM safe_work_read AS r WHERE r.member_id = member.id)
         WHERE disabled_at IS NULL AND is_keeper + is_lead + is_owner > 0 ORDER BY member.name, member.id",
    )
    .fetch_all(db)
    .await?)
}
