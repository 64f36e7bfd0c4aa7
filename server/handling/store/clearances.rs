//! Who has been assessed for what, by whom, until when.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::super::model::{Clearance, NewClearance, PersonCleared};
use crate::house::errors::AppError;
use crate::house::ids::{ClearanceId, MemberId};
use crate::house::write::Write;

/// The highest level that a member's clearances give on a day: none that was withdrawn or ran out, and none at all while
/// they are suspended or disabled. 0 when none counts.
///
/// # Errors
/// The database can't be read.
pub async fn level_on(db: &mut SqliteConnection, member: MemberId, day: NaiveDate) -> Result<i64, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT COALESCE(MAX(level), 0) FROM clearance_standing WHERE member_id = ?1 AND valid_from <= ?2 AND valid_until >= ?2",
    )
    .bind(member)
    .bind(day)
    .fetch_one(db)
    .await?)
}

/// The highest level that anybody in the house holds on a day.
///
/// # Errors
/// The database can't be read.
pub async fn highest_standing(db: &mut SqliteConnection, day: NaiveDate) -> Result<i64, AppError> {
    Ok(sqlx::query_scalar("SELECT COALESCE(MAX(level), 0) FROM clearance_standing WHERE valid_from <= ?1 AND valid_until >= ?1")
        .bind(day)
        .fetch_one(db)
        .await?)
}

/// Everybody who is active, with what they are cleared for on a day.
///
/// # Errors
/// The database can't be read.
pub async fn people(db: &mut SqliteConnection, day: NaiveDate) -> Result<Vec<PersonCleared>, AppError> {
    Ok(sqlx::query_as(
        "WITH counted AS (
             SELECT member_id, level, MAX(valid_until) AS until FROM clearance_standing
             WHERE valid_from <= ?1 AND valid_until >= ?1 GROUP BY member_id, level),
         best AS (SELECT member_id, MAX(level) AS level FROM counted GROUP BY member_id)
         SELECT member.id, member.name, COALESCE(best.level, 0) AS level, counted.until,
                (SELECT MIN(incident_id) FROM suspension WHERE suspension.member_id = member.id AND lifted_at IS NULL) AS suspended_for
         FROM member
         LEFT JOIN best ON best.member_id = member.id
         LEFT JOIN counted ON counted.member_id = member.id AND counted.level = best.level
         WHERE member.disabled_at IS NULL
         ORDER BY member.name, member.id",
    )
    .bind(day)
    .fetch_all(db)
    .await?)
}

/// Everybody who is active and looks after animals.
///
/// # Errors
/// The database can't be read.
pub async fn keepers(db: &mut SqliteConnection) -> Result<Vec<MemberId>, AppError> {
    Ok(sqlx::query_scalar("SELECT id FROM member WHERE disabled_at IS NULL AND (is_keeper = 1 OR is_lead = 1 OR is_owner = 1)")
        .fetch_all(db)
        .await?)
}

/// One active person, with what they are cleared for on a day.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn person(db: &mut SqliteConnection, id: MemberId, day: NaiveDate) -> Result<PersonCleared, AppError> {
    people(db, day).await?.into_iter().find(|person| person.id == id).ok_or(AppError::NotFound)
}

/// All that a member was ever granted, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn clearances_of(db: &mut SqliteConnection, member: MemberId) -> Result<Vec<Clearance>, AppError> {
    Ok(sqlx::query_as(
        "SELECT clearance.id, clearance.member_id, holder.name AS member_name, level, granter.name AS granted_by_name, outside_assessor,
                evidence, valid_from, valid_until, granted_at, withdrawn_at, withdrawer.name AS withdrawn_by_name
         FROM clearance
         JOIN member AS holder ON holder.id = clearance.member_id
         JOIN member AS granter ON granter.id = clearance.granted_by
         LEFT JOIN member AS withdrawer ON withdrawer.id = clearance.withdrawn_by
         WHERE clearance.member_id = ? ORDER BY clearance.id DESC",
    )
    .bind(member)
    .fetch_all(db)
    .await?)
}

/// One clearance.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_clearance(db: &mut SqliteConnection, id: ClearanceId) -> Result<Clearance, AppError> {
    let member: MemberId = sqlx::query_scalar("SELECT member_id FROM clearance WHERE id = ?").bind(id).fetch_one(&mut *db).await?;
    clearances_of(db, member).await?.into_iter().find(|clearance| clearance.id == id).ok_or(AppError::NotFound)
}

/// Grants a clearance. Triggers refuse an assessor who does not hold the level on its first day, oneself, an outside
/// assessment while somebody in the house holds the level, and whoever has not practised or not read enough.
///
/// # Errors
/// Those refusals, as a 403 with the reason; mistakes that name what is still missing.
pub async fn grant(write: &mut Write, new: &NewClearance) -> Result<ClearanceId, AppError> {
    let (who, at) = (write.who, write.at);
    let who = who.ok_or_else(|| AppError::forbidden("A clearance is granted by a person."))?;
    if new.outside_assessor.is_empty() && who != new.member {
        practised(write, new).await?;
    }
    Ok(sqlx::query_scalar(
        "INSERT INTO clearance (member_id, level, granted_by, outside_assessor, evidence, valid_from, valid_until, granted_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.member)
    .bind(new.level)
    .bind(who)
    .bind(&new.outside_assessor)
    .bind(&new.evidence)
    .bind(new.valid_from)
    .bind(new.valid_until)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Refuses whoever has not yet done what the level takes.
async fn practised(write: &mut Write, new: &NewClearance) -> Result<(), AppError> {
    let towards = super::practice::towards(write.db(), new.member, new.valid_from).await?;
    match towards.iter().find(|towards| i64::from(towards.level) == new.level) {
        Some(towards) if !towards.missing().is_empty() => Err(AppError::refused("level", towards.words())),
        _ => Ok(()),
    }
}

/// Withdraws a clearance at once.
///
/// # Errors
/// A conflict when it was withdrawn before.
pub async fn withdraw(write: &mut Write, id: ClearanceId) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let withdrawn = sqlx::query("UPDATE clearance SET withdrawn_at = ?, withdrawn_by = ? WHERE id = ? AND withdrawn_at IS NULL")
        .bind(at)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    if withdrawn.rows_affected() == 0 {
        return Err(AppError::conflict("This clearance has been withdrawn already."));
    }
    Ok(())
}
