//! What a room's tablet shows: the room's open duties, and what was signed at it just now.

use chrono::{DateTime, TimeDelta, Utc};
use sqlx::SqliteConnection;

use super::read::{UNDO_MINUTES, open, require};
use crate::house::errors::AppError;
use crate::house::ids::{DeviceId, DutyId, RackId, RoomId};
use crate::rounds::model::{Duty, Signoff};

/// A room's open duties in walking order, whoever has them.
///
/// # Errors
/// The database can't be read.
pub async fn open_in_room(db: &mut SqliteConnection, room: RoomId) -> Result<Vec<Duty>, AppError> {
    let (name, racks) = room_and_racks(db, room).await?;
    Ok(open(db).await?.into_iter().filter(|duty| stands_in(duty, &name, &racks)).collect())
}

/// A duty of a room, open or ended.
///
/// # Errors
/// [`AppError::NotFound`] when there is none, or it is another room's.
pub async fn require_in_room(db: &mut SqliteConnection, room: RoomId, id: DutyId) -> Result<Duty, AppError> {
    let duty = require(db, id).await?;
    let (name, racks) = room_and_racks(db, room).await?;
    if stands_in(&duty, &name, &racks) { Ok(duty) } else { Err(AppError::NotFound) }
}

async fn room_and_racks(db: &mut SqliteConnection, room: RoomId) -> Result<(String, Vec<RackId>), AppError> {
    let name = sqlx::query_scalar("SELECT name FROM room WHERE id = ?").bind(room).fetch_one(&mut *db).await?;
    let racks = sqlx::query_scalar("SELECT id FROM rack WHERE room_id = ?").bind(room).fetch_all(db).await?;
    Ok((name, racks))
}

/// In one of the room's racks, or a duty of the room itself, which stands at its head.
fn stands_in(duty: &Duty, room: &str, racks: &[RackId]) -> bool {
    duty.rack_id.map_or(duty.place.as_deref() == Some(room), |rack| racks.contains(&rack))
}

/// What was signed at a tablet so lately that it could be taken back, newest first. Whether each can be is for its kind to say.
///
/// # Errors
/// The database can't be read.
pub async fn signed_at(db: &mut SqliteConnection, device: DeviceId, now: DateTime<Utc>) -> Result<Vec<Signoff>, AppError> {
    Ok(sqlx::query_as(
        "SELECT signoff.id, duty_id, member_id, member.name AS member_name, at, made_at, outcome, duty_now.kind, duty_now.label,
                duty_now.animal_id IS NOT NULL AS of_animal, 0 AS taken_back
         FROM signoff_standing AS signoff JOIN member ON member.id = signoff.member_id JOIN duty_now ON duty_now.id = signoff.duty_id
         WHERE signoff.device_id = ? AND signoff.at >= ? ORDER BY signoff.id DESC LIMIT 200",
    )
    .bind(device)
    .bind(now - TimeDelta::minutes(UNDO_MINUTES))
    .fetch_all(db)
    .await?)
}
