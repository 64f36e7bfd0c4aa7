//! Tagged animals held back for breeding: not for sale until a lead releases them.

use sqlx::SqliteConnection;

use crate::animals::model::holdback::HoldbackEntry;
use crate::house::errors::AppError;
use crate::house::ids::AnimalId;
use crate::house::write::Write;

/// The entries of an animal's holdback, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn holdbacks(db: &mut SqliteConnection, id: AnimalId) -> Result<Vec<HoldbackEntry>, AppError> {
    Ok(sqlx::query_as(
        "SELECT entry.day, entry.held, entry.reason, member.name AS by_name
         FROM animal_holdback AS entry LEFT JOIN member ON member.id = entry.member_id
         WHERE entry.animal_id = ? ORDER BY entry.id DESC",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// The entry by which an animal is held back, if it is.
///
/// # Errors
/// The database can't be read.
pub async fn held_back(db: &mut SqliteConnection, id: AnimalId) -> Result<Option<HoldbackEntry>, AppError> {
    Ok(holdbacks(db, id).await?.into_iter().next().filter(|entry| entry.held))
}

/// Holds an animal back for breeding.
///
/// # Errors
/// One that is held back already, or has left.
pub async fn hold_back(write: &mut Write, id: AnimalId, reason: &str) -> Result<(), AppError> {
    enter(write, id, true, reason).await
}

/// Releases an animal: it may be sold again.
///
/// # Errors
/// One that is not held back; somebody who does not lead.
pub async fn release(write: &mut Write, id: AnimalId, reason: &str) -> Result<(), AppError> {
    enter(write, id, false, reason).await
}

async fn enter(write: &mut Write, id: AnimalId, held: bool, reason: &str) -> Result<(), AppError> {
    let (who, at, today) = (write.who, write.at, write.today);
    let is_held = held_back(write.db(), id).await?.is_some();
    if held == is_held {
        let sentence = if held { "This animal is held back already." } else { "This animal is not held back." };
        return Err(AppError::refused("reason", sentence));
    }
    if held && !super::require(write.db(), id).await?.is_alive() {
        return Err(AppError::refused("reason", "Only an animal that is alive and in the house is held back."));
    }
    sqlx::query("INSERT INTO animal_holdback (animal_id, day, held, reason, member_id, at) VALUES (?, ?, ?, ?, ?, ?)")
        .bind(id)
        .bind(today)
        .bind(held)
        .bind(reason)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}
