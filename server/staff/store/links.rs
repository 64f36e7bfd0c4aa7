//! SQL of one-time links: set-up, invitations, new pass phrases. Only a hash of a link's secret is kept.

use chrono::{DateTime, TimeDelta, Utc};
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{LinkId, MemberId};
use crate::house::secrets::{random_token, sha256_hex};
use crate::house::write::Write;
use crate::staff::model::{LinkRow, Purpose, Roles};

/// A link that was made just now: its secret is not kept, so this is the only time to show it.
#[derive(Debug)]
pub struct Made {
    /// Its id.
    pub id: LinkId,
    /// Its secret.
    pub token: String,
    /// When it stops working.
    pub expires_at: DateTime<Utc>,
}

/// Makes a link by which whoever opens it first becomes the first owner. Older ones stop working.
///
/// # Errors
/// The database can't be written.
pub async fn make_setup(write: &mut Write) -> Result<Made, AppError> {
    let at = write.at;
    sqlx::query("UPDATE one_time_link SET revoked_at = ? WHERE purpose = 'setup' AND used_at IS NULL AND revoked_at IS NULL")
        .bind(at)
        .execute(write.db())
        .await?;
    insert(write, Purpose::Setup, None, "", Roles { owner: true, lead: true, ..Roles::default() }).await
}

/// Makes an invitation.
///
/// # Errors
/// The database can't be written.
pub async fn make_invitation(write: &mut Write, name: &str, roles: Roles) -> Result<Made, AppError> {
    insert(write, Purpose::Invitation, None, name, roles).await
}

/// Makes a link by which a member chooses a new pass phrase. Their older ones stop working.
///
/// # Errors
/// The database can't be written.
pub async fn make_reset(write: &mut Write, member: MemberId) -> Result<Made, AppError> {
    let at = write.at;
    sqlx::query("UPDATE one_time_link SET revoked_at = ? WHERE member_id = ? AND used_at IS NULL AND revoked_at IS NULL")
        .bind(at)
        .bind(member)
        .execute(write.db())
        .await?;
    insert(write, Purpose::Reset, Some(member), "", Roles::default()).await
}

async fn insert(write: &mut Write, purpose: Purpose, member: Option<MemberId>, name: &str, roles: Roles) -> Result<Made, AppError> {
    let token = random_token();
    let (at, who) = (write.at, write.who);
    let expires_at = at + TimeDelta::hours(purpose.hours());
    let id = sqlx::query_scalar(
        "INSERT INTO one_time_link
             (purpose, token_hash, member_id, name, is_owner, is_lead, is_keeper, is_counter, created_by, created_at, expires_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(purpose)
    .bind(sha256_hex(token.as_bytes()))
    .bind(member)
    .bind(name)
    .bind(roles.owner)
    .bind(roles.lead)
    .bind(roles.keeper)
    .bind(roles.counter)
    .bind(who)
    .bind(at)
    .bind(expires_at)
    .fetch_one(write.db())
    .await?;
    Ok(Made { id, token, expires_at })
}

/// A link that still works, by its secret. An unknown, used, revoked or old one is not found, all alike.
///
/// # Errors
/// [`AppError::NotFound`] when it does not work.
pub async fn require(db: &mut SqliteConnection, purpose: Purpose, token: &str, now: DateTime<Utc>) -> Result<LinkRow, AppError> {
    Ok(sqlx::query_as(
        "SELECT one_time_link.id, one_time_link.member_id, one_time_link.name, one_time_link.is_owner, one_time_link.is_lead,
                one_time_link.is_keeper, one_time_link.is_counter, COALESCE(maker.name, '') AS made_by, expires_at
         FROM one_time_link
         LEFT JOIN member AS maker ON maker.id = one_time_link.created_by
         LEFT JOIN member AS subject ON subject.id = one_time_link.member_id
         WHERE token_hash = ?1 AND purpose = ?2 AND used_at IS NULL AND revoked_at IS NULL AND expires_at > ?3
           AND subject.disabled_at IS NULL
           AND (purpose <> 'setup' OR NOT EXISTS (SELECT 1 FROM member WHERE member.is_owner = 1 AND member.disabled_at IS NULL))",
    )
    .bind(sha256_hex(token.as_bytes()))
    .bind(purpose)
    .bind(now)
    .fetch_one(db)
    .await?)
}

/// Uses a link up, inside the change that it allows.
///
/// # Errors
/// [`AppError::NotFound`] when it does not work, or somebody else just used it.
pub async fn use_up(write: &mut Write, purpose: Purpose, token: &str) -> Result<LinkRow, AppError> {
    let at = write.at;
    let link = require(write.db(), purpose, token, at).await?;
    sqlx::query("UPDATE one_time_link SET used_at = ? WHERE id = ?").bind(at).bind(link.id).execute(write.db()).await?;
    Ok(link)
}

/// Invitations that still work, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn open_invitations(db: &mut SqliteConnection, now: DateTime<Utc>) -> Result<Vec<LinkRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT one_time_link.id, one_time_link.member_id, one_time_link.name, one_time_link.is_owner, one_time_link.is_lead,
                one_time_link.is_keeper, one_time_link.is_counter, COALESCE(maker.name, '') AS made_by, expires_at
         FROM one_time_link LEFT JOIN member AS maker ON maker.id = one_time_link.created_by
         WHERE purpose = 'invitation' AND used_at IS NULL AND revoked_at IS NULL AND expires_at > ?
         ORDER BY one_time_link.id DESC",
    )
    .bind(now)
    .fetch_all(db)
    .await?)
}

/// Revokes an invitation that was not used yet, and gives the name that it was for.
///
/// # Errors
/// [`AppError::NotFound`] when there is none to revoke.
pub async fn revoke_invitation(write: &mut Write, id: LinkId) -> Result<String, AppError> {
    let at = write.at;
    Ok(sqlx::query_scalar(
        "UPDATE one_time_link SET revoked_at = ? WHERE id = ? AND purpose = 'invitation' AND used_at IS NULL AND revoked_at IS NULL
         RETURNING name",
    )
    .bind(at)
    .bind(id)
    .fetch_one(write.db())
    .await?)
}
