//! What waited in a browser and could not be written when it arrived: kept until a person has settled it.

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{MemberId, RefusalId};
use crate::house::write::Write;
use crate::rounds::model::arrival::{NewRefusal, Refusal, Settled};

/// Keeps a sign-off of whoever writes that could not be written.
///
/// # Errors
/// The database can't be written.
pub async fn keep(write: &mut Write, new: &NewRefusal) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO queue_refusal (member_id, once_key, duty_id, label, entered, made_at, arrived_at, why)
         VALUES (?, ?, (SELECT id FROM duty WHERE id = ?), ?, ?, ?, ?, ?)",
    )
    .bind(who)
    .bind(&new.once_key)
    .bind(new.duty)
    .bind(&new.label)
    .bind(&new.entered)
    .bind(new.made_at)
    .bind(at)
    .bind(&new.why)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Why a form that waited could not be written, or not all of it; empty when there is nothing against it.
///
/// # Errors
/// The database can't be read.
pub async fn reasons(db: &mut SqliteConnection, member: MemberId, once_key: &str) -> Result<Vec<String>, AppError> {
    Ok(sqlx::query_scalar("SELECT why FROM queue_refusal WHERE member_id = ? AND once_key = ? ORDER BY id")
        .bind(member)
        .bind(once_key)
        .fetch_all(db)
        .await?)
}

/// What is not settled yet, the oldest first: one person's, or everybody's.
///
/// # Errors
/// The database can't be read.
pub async fn unsettled(db: &mut SqliteConnection, member: Option<MemberId>) -> Result<Vec<Refusal>, AppError> {
    Ok(sqlx::query_as(
        "SELECT r.id, r.member_id, member.name AS member_name, r.label, r.entered, duty.animal_id, r.made_at, r.arrived_at, r.why, r.settled_at
         FROM queue_refusal AS r JOIN member ON member.id = r.member_id LEFT JOIN duty ON duty.id = r.duty_id
         WHERE r.settled_at IS NULL AND (?1 IS NULL OR r.member_id = ?1) ORDER BY r.made_at, r.id",
    )
    .bind(member)
    .fetch_all(db)
    .await?)
}

/// How many are not settled yet: one person's, or everybody's.
///
/// # Errors
/// The database can't be read.
pub async fn count_unsettled(db: &mut SqliteConnection, member: Option<MemberId>) -> Result<i64, AppError> {
    Ok(sqlx::query_scalar("SELECT COUNT(*) FROM queue_refusal WHERE settled_at IS NULL AND (?1 IS NULL OR member_id = ?1)")
        .bind(member)
        .fetch_one(db)
        .await?)
}

/// One of them, settled or not.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: RefusalId) -> Result<Refusal, AppError> {
    Ok(sqlx::query_as(
        "SELECT r.id, r.member_id, member.name AS member_name, r.label, r.entered, duty.animal_id, r.made_at, r.arrived_at, r.why, r.settled_at
         FROM queue_refusal AS r JOIN member ON member.id = r.member_id LEFT JOIN duty ON duty.id = r.duty_id
         WHERE r.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// Settles one, with a note where there was something to add.
///
/// # Errors
/// A conflict when it is settled already.
pub async fn settle(write: &mut Write, id: RefusalId, how: Settled, note: &str) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let settled = sqlx::query(
        "UPDATE queue_refusal SET settled_at = ?, settled_by = ?, settled_how = ?, note = ? WHERE id = ? AND settled_at IS NULL",
    )
    .bind(at)
    .bind(who)
    .bind(how)
    .bind(note)
    .bind(id)
    .execute(write.db())
    .await?;
    if settled.rows_affected() == 1 { Ok(()) } else { Err(AppError::conflict("This is settled already.")) }
}
