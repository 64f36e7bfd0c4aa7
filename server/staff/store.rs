//! All SQL of members of staff.

pub mod links;
pub mod rota;
pub mod sessions;
pub mod settings;
pub mod throttle;

use sqlx::SqliteConnection;

use super::model::{MemberRow, NewMember, Roles, Secret};
use crate::house::errors::AppError;
use crate::house::ids::MemberId;
use crate::house::write::Write;

/// Every member, enabled ones first, by name.
///
/// # Errors
/// The database can't be read.
pub async fn all(db: &mut SqliteConnection) -> Result<Vec<MemberRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, name, sign_in_name, is_owner, is_lead, is_keeper, is_counter, pin_hash IS NOT NULL AS has_pin, disabled_at, created_at,
                (SELECT MAX(session.last_seen_at) FROM session WHERE session.member_id = member.id) AS last_seen_at, version
         FROM member ORDER BY disabled_at IS NOT NULL, name, id",
    )
    .fetch_all(db)
    .await?)
}

/// The members who may sign in, by name.
///
/// # Errors
/// The database can't be read.
pub async fn active(db: &mut SqliteConnection) -> Result<Vec<MemberRow>, AppError> {
    let mut members = all(db).await?;
    members.retain(|member| member.disabled_at.is_none());
    Ok(members)
}

/// One member.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: MemberId) -> Result<MemberRow, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, name, sign_in_name, is_owner, is_lead, is_keeper, is_counter, pin_hash IS NOT NULL AS has_pin, disabled_at, created_at,
                (SELECT MAX(session.last_seen_at) FROM session WHERE session.member_id = member.id) AS last_seen_at, version
         FROM member WHERE id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// What sign-in checks, by sign-in name; nothing when nobody has that name.
///
/// # Errors
/// The database can't be read.
pub async fn secret_of_name(db: &mut SqliteConnection, sign_in_name: &str) -> Result<Option<Secret>, AppError> {
    Ok(sqlx::query_as("SELECT id, pass_hash, disabled_at IS NULL AS enabled FROM member WHERE sign_in_name = ?")
        .bind(sign_in_name)
        .fetch_optional(db)
        .await?)
}

/// The hash of a member's pass phrase.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such member.
pub async fn pass_hash(db: &mut SqliteConnection, id: MemberId) -> Result<String, AppError> {
    Ok(sqlx::query_scalar("SELECT pass_hash FROM member WHERE id = ?").bind(id).fetch_one(db).await?)
}

/// The hash of a member's PIN, if they have chosen one and may sign in.
///
/// # Errors
/// The database can't be read.
pub async fn pin_hash(db: &mut SqliteConnection, id: MemberId) -> Result<Option<String>, AppError> {
    let hash: Option<Option<String>> =
        sqlx::query_scalar("SELECT pin_hash FROM member WHERE id = ? AND disabled_at IS NULL").bind(id).fetch_optional(db).await?;
    Ok(hash.flatten())
}

/// Adds a member.
///
/// # Errors
/// A sign-in name that is taken.
pub async fn insert_member(write: &mut Write, new: &NewMember) -> Result<MemberId, AppError> {
    let at = write.at;
    Ok(sqlx::query_scalar(
        "INSERT INTO member (name, sign_in_name, pass_hash, is_owner, is_lead, is_keeper, is_counter, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(&new.name)
    .bind(&new.sign_in_name)
    .bind(&new.pass_hash)
    .bind(new.roles.owner)
    .bind(new.roles.lead)
    .bind(new.roles.keeper)
    .bind(new.roles.counter)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Whether anybody who may sign in is an owner.
///
/// # Errors
/// The database can't be read.
pub async fn has_owner(db: &mut SqliteConnection) -> Result<bool, AppError> {
    Ok(sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM member WHERE is_owner = 1 AND disabled_at IS NULL)").fetch_one(db).await?)
}

/// Stores the hash of a new pass phrase.
///
/// # Errors
/// The database can't be written.
pub async fn set_pass_hash(write: &mut Write, id: MemberId, pass_hash: &str) -> Result<(), AppError> {
    sqlx::query("UPDATE member SET pass_hash = ?, version = version + 1 WHERE id = ?").bind(pass_hash).bind(id).execute(write.db()).await?;
    Ok(())
}

/// Replaces a hash by a costlier one of the same pass phrase, unless the pass phrase was changed meanwhile.
///
/// # Errors
/// The database can't be written.
pub async fn strengthen(write: &mut Write, id: MemberId, old_hash: &str, new_hash: &str) -> Result<(), AppError> {
    sqlx::query("UPDATE member SET pass_hash = ? WHERE id = ? AND pass_hash = ?")
        .bind(new_hash)
        .bind(id)
        .bind(old_hash)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Stores the hash of a new PIN.
///
/// # Errors
/// The database can't be written.
pub async fn set_pin_hash(write: &mut Write, id: MemberId, pin_hash: &str) -> Result<(), AppError> {
    sqlx::query("UPDATE member SET pin_hash = ? WHERE id = ?").bind(pin_hash).bind(id).execute(write.db()).await?;
    Ok(())
}

/// Changes a member's roles.
///
/// # Errors
/// A conflict when somebody else changed the member meanwhile, or when nobody would be left as owner.
pub async fn set_roles(write: &mut Write, id: MemberId, version: i64, roles: Roles) -> Result<(), AppError> {
    let changed = sqlx::query(
        "UPDATE member SET is_owner = ?, is_lead = ?, is_keeper = ?, is_counter = ?, version = version + 1 WHERE id = ? AND version = ?",
    )
    .bind(roles.owner)
    .bind(roles.lead)
    .bind(roles.keeper)
    .bind(roles.counter)
    .bind(id)
    .bind(version)
    .execute(write.db())
    .await?;
    settled(write, changed.rows_affected()).await
}

/// Stops a member from signing in, at once: their sign-ins end.
///
/// # Errors
/// A conflict when somebody else changed the member meanwhile, or when nobody would be left as owner.
pub async fn disable(write: &mut Write, id: MemberId, version: i64) -> Result<(), AppError> {
    let at = write.at;
    let changed =
        sqlx::query("UPDATE member SET disabled_at = ?, version = version + 1 WHERE id = ? AND version = ? AND disabled_at IS NULL")
            .bind(at)
            .bind(id)
            .bind(version)
            .execute(write.db())
            .await?;
    crate::house::session::end_all(write.db(), id, None).await?;
    settled(write, changed.rows_affected()).await
}

/// Lets a member sign in again, with the pass phrase that they had.
///
/// # Errors
/// A conflict when somebody else changed the member meanwhile.
pub async fn enable(write: &mut Write, id: MemberId, version: i64) -> Result<(), AppError> {
    let changed =
        sqlx::query("UPDATE member SET disabled_at = NULL, version = version + 1 WHERE id = ? AND version = ? AND disabled_at IS NOT NULL")
            .bind(id)
            .bind(version)
            .execute(write.db())
            .await?;
    settled(write, changed.rows_affected()).await
}

/// Makes a member an owner who may sign in, whatever they were before: for the host's command line, when no owner is left.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such member.
pub async fn make_owner(write: &mut Write, id: MemberId) -> Result<(), AppError> {
    let changed = sqlx::query("UPDATE member SET is_owner = 1, disabled_at = NULL, version = version + 1 WHERE id = ?")
        .bind(id)
        .execute(write.db())
        .await?;
    if changed.rows_affected() == 1 { Ok(()) } else { Err(AppError::NotFound) }
}

/// One row was changed, and the house still has an owner.
async fn settled(write: &mut Write, changed: u64) -> Result<(), AppError> {
    if changed != 1 {
        return Err(AppError::conflict("Somebody else changed this member meanwhile. Open the page again to see how they stand now."));
    }
    if has_owner(write.db()).await? {
        return Ok(());
    }
    Err(AppError::conflict(
        "This is the last owner. Make somebody else an owner first; if nobody can sign in as one, use “silkward setup” on the host.",
    ))
}
