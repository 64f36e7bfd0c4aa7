//! SQL of rooms' tablets. Only hashes of their addresses and cookies are kept.

use chrono::{DateTime, TimeDelta, Utc};
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{DeviceId, RoomId};
use crate::house::secrets::{random_token, sha256_hex};
use crate::house::session::Theme;
use crate::house::write::Write;
use crate::staff::model::{DeviceRow, Opening};

/// How many hours the address that opens a tablet works.
const LINK_HOURS: i64 = 24;

/// An address that was made just now: its secret is not kept, so this is the only time to show it.
#[derive(Debug)]
pub struct MadeDevice {
    /// The tablet.
    pub id: DeviceId,
    /// The secret of its address.
    pub token: String,
    /// When the address stops working.
    pub expires_at: DateTime<Utc>,
}

/// Every tablet, those that still work first.
///
/// # Errors
/// The database can't be read.
pub async fn all(db: &mut SqliteConnection) -> Result<Vec<DeviceRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT device.id, device.name, room.name AS room_name, maker.name AS made_by, device.made_at, device.opened_at, device.last_seen_at,
                device.revoked_at, revoker.name AS revoked_by
         FROM device JOIN room ON room.id = device.room_id JOIN member AS maker ON maker.id = device.made_by
         LEFT JOIN member AS revoker ON revoker.id = device.revoked_by
         ORDER BY device.revoked_at IS NOT NULL, room.walk_order, device.name, device.id",
    )
    .fetch_all(db)
    .await?)
}

/// One tablet.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: DeviceId) -> Result<DeviceRow, AppError> {
    all(db).await?.into_iter().find(|device| device.id == id).ok_or(AppError::NotFound)
}

/// Makes a tablet for a room, with the address that opens it.
///
/// # Errors
/// The database can't be written.
pub async fn make(write: &mut Write, name: &str, room: RoomId) -> Result<MadeDevice, AppError> {
    let (token, at, who) = (random_token(), write.at, write.who);
    let expires_at = at + TimeDelta::hours(LINK_HOURS);
    let id = sqlx::query_scalar(
        "INSERT INTO device (name, room_id, link_hash, link_expires_at, made_by, made_at) VALUES (?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(name)
    .bind(room)
    .bind(sha256_hex(token.as_bytes()))
    .bind(expires_at)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?;
    Ok(MadeDevice { id, token, expires_at })
}

/// Makes a new address for a tablet that lost its sign-in. Until it is opened, the tablet goes on as it was.
///
/// # Errors
/// A conflict when the tablet is revoked.
pub async fn make_link(write: &mut Write, id: DeviceId) -> Result<MadeDevice, AppError> {
    let token = random_token();
    let expires_at = write.at + TimeDelta::hours(LINK_HOURS);
    let made = sqlx::query("UPDATE device SET link_hash = ?, link_expires_at = ? WHERE id = ? AND revoked_at IS NULL")
        .bind(sha256_hex(token.as_bytes()))
        .bind(expires_at)
        .bind(id)
        .execute(write.db())
        .await?;
    if made.rows_affected() == 1 { Ok(MadeDevice { id, token, expires_at }) } else { Err(revoked_already()) }
}

fn revoked_already() -> AppError {
    AppError::conflict("This tablet is revoked. Make a new one.")
}

/// The tablet that an address opens. An unknown, used or old one is not found, all alike.
///
/// # Errors
/// [`AppError::NotFound`] when it does not work.
pub async fn of_link(db: &mut SqliteConnection, token: &str, now: DateTime<Utc>) -> Result<Opening, AppError> {
    Ok(sqlx::query_as(
        "SELECT device.id, device.name, room.name AS room_name FROM device JOIN room ON room.id = device.room_id
         WHERE device.link_hash = ? AND device.link_expires_at > ? AND device.revoked_at IS NULL",
    )
    .bind(sha256_hex(token.as_bytes()))
    .bind(now)
    .fetch_one(db)
    .await?)
}

/// Uses an address up and gives the secret of the cookie that makes a browser this tablet. Whatever browser was it before is
/// so no more.
///
/// # Errors
/// [`AppError::NotFound`] when it does not work, or somebody else just used it.
pub async fn open(write: &mut Write, link: &str) -> Result<(Opening, String), AppError> {
    let at = write.at;
    let opening = of_link(write.db(), link, at).await?;
    let token = random_token();
    sqlx::query(
        "UPDATE device SET link_hash = NULL, link_expires_at = NULL, token_hash = ?1, opened_at = ?2, last_seen_at = ?2 WHERE id = ?3",
    )
    .bind(sha256_hex(token.as_bytes()))
    .bind(at)
    .bind(opening.id)
    .execute(write.db())
    .await?;
    Ok((opening, token))
}

/// Ends a tablet: it can do nothing from its next request on.
///
/// # Errors
/// A conflict when it is revoked already.
pub async fn revoke(write: &mut Write, id: DeviceId) -> Result<(), AppError> {
    let (at, who) = (write.at, write.who);
    let revoked = sqlx::query(
        "UPDATE device SET revoked_at = ?, revoked_by = ?, link_hash = NULL, link_expires_at = NULL WHERE id = ? AND revoked_at IS NULL",
    )
    .bind(at)
    .bind(who)
    .bind(id)
    .execute(write.db())
    .await?;
    if revoked.rows_affected() == 1 { Ok(()) } else { Err(revoked_already()) }
}

/// Chooses a tablet's colours.
///
/// # Errors
/// The database can't be written.
pub async fn set_theme(db: &mut SqliteConnection, id: DeviceId, theme: Theme) -> Result<(), AppError> {
    sqlx::query("UPDATE device SET theme = ? WHERE id = ? AND revoked_at IS NULL").bind(theme.code()).bind(id).execute(db).await?;
    Ok(())
}
