//! Readings of temperature and humidity.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{RackId, ReadingId, RoomId};
use crate::house::write::Write;
use crate::rooms::model::{NewReading, Reading};

/// Notes a reading.
///
/// # Errors
/// A rack of another room; values that no instrument of a spider house shows.
pub async fn insert_reading(write: &mut Write, room: RoomId, new: &NewReading) -> Result<ReadingId, AppError> {
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar(
        "INSERT INTO climate_reading (room_id, rack_id, at, day, decicelsius, humidity, member_id, written_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(room)
    .bind(new.rack)
    .bind(new.at)
    .bind(new.day)
    .bind(new.decicelsius)
    .bind(new.humidity)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Strikes out a reading that stands.
///
/// # Errors
/// [`AppError::NotFound`] when it does not stand (any more).
pub async fn strike_reading(write: &mut Write, reading: ReadingId) -> Result<Reading, AppError> {
    let struck = require_reading(write.db(), reading).await?;
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO climate_reading (room_id, rack_id, at, day, member_id, written_at, corrects_id)
         SELECT room_id, rack_id, at, day, ?2, ?3, id FROM climate_reading_standing WHERE id = ?1",
    )
    .bind(reading)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(struck)
}

/// A reading that stands.
///
/// # Errors
/// [`AppError::NotFound`] when it does not stand (any more).
pub async fn require_reading(db: &mut SqliteConnection, id: ReadingId) -> Result<Reading, AppError> {
    Ok(sqlx::query_as(
        "SELECT climate_reading_standing.id, room_id, rack_id, at, day, decicelsius, humidity,
                COALESCE(member.name, '') AS by_name
         FROM climate_reading_standing LEFT JOIN member ON member.id = climate_reading_standing.member_id
         WHERE climate_reading_standing.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// The readings that stand for a rack since an instant, the oldest first, as [`standing_for`] has them.
///
/// # Errors
/// The database can't be read.
pub async fn readings_of_rack(db: &mut SqliteConnection, rack: RackId, since: DateTime<Utc>) -> Result<Vec<Reading>, AppError> {
    let readings: Vec<Reading> = sqlx::query_as(
        "SELECT r.id, r.room_id, r.rack_id, r.at, r.day, r.decicelsius, r.humidity, COALESCE(member.name, '') AS by_name
         FROM climate_reading_standing AS r LEFT JOIN member ON member.id = r.member_id
         WHERE r.room_id = (SELECT room_id FROM rack WHERE id = ?1) AND r.at >= ?2 AND (r.rack_id IS NULL OR r.rack_id = ?1)
         ORDER BY r.at, r.id",
    )
    .bind(rack)
    .bind(since)
    .fetch_all(db)
    .await?;
    Ok(standing_for(&readings, rack))
}

/// Every reading that stands since an instant, the oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn readings_since(db: &mut SqliteConnection, since: DateTime<Utc>) -> Result<Vec<Reading>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, room_id, rack_id, at, day, decicelsius, humidity, '' AS by_name
         FROM climate_reading_standing WHERE room_id IN (SELECT id FROM room) AND at >= ? ORDER BY at, id",
    )
    .bind(since)
    .fetch_all(db)
    .await?)
}

/// Those of a room's readings that stand for one of its racks: the rack's own, and on days without one those of the room
/// as a whole.
#[must_use]
pub fn standing_for(readings: &[Reading], rack: RackId) -> Vec<Reading> {
    let own_days: BTreeSet<NaiveDate> =
        readings.iter().filter(|reading| reading.rack_id == Some(rack)).map(|reading| reading.day).collect();
    let stands = |reading: &&Reading| match reading.rack_id {
        Some(of) => of == rack,
        None => !own_days.contains(&reading.day),
    };
    readings.iter().filter(stands).cloned().collect()
}
