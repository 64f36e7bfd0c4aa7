//! What is noted beside a sac: readings, and the stages that were seen. Entries are only ever added.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::{check_after, check_past, require_sac};
use crate::breeding::model::incubation::{NewSacReading, SacReading, Seen};
use crate::breeding::model::{Sac, SacState};
use crate::house::errors::AppError;
use crate::house::ids::{SacId, SacReadingId, SacSeenId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::stage::Stage;

/// The readings beside a sac that stand, the oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn readings(db: &mut SqliteConnection, sac: SacId) -> Result<Vec<SacReading>, AppError> {
    Ok(sqlx::query_as(
        "SELECT r.id, r.at, r.day, r.decicelsius, r.humidity, COALESCE(member.name, '') AS by_name
         FROM sac_reading_standing AS r LEFT JOIN member ON member.id = r.member_id WHERE r.sac_id = ? ORDER BY r.at, r.id",
    )
    .bind(sac)
    .fetch_all(db)
    .await?)
}

/// Notes a reading.
///
/// # Errors
/// A day on which there was no sac; a time still to come.
pub async fn insert_reading(write: &mut Write, new: &NewSacReading) -> Result<SacReadingId, AppError> {
    let sac = require_sac(write.db(), new.sac).await?;
    check_past("day", new.day, write.today)?;
    check_after("day", new.day, sac.laid_on)?;
    if let Some(ended) = sac.ended_on.filter(|ended| new.day > *ended) {
        return Err(AppError::refused("day", format!("This sac was {} on {}.", sac.state, text::day(&ended))));
    }
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar(
        "INSERT INTO sac_reading (sac_id, at, day, decicelsius, humidity, member_id, written_at) VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.sac)
    .bind(new.at)
    .bind(new.day)
    .bind(new.decicelsius)
    .bind(new.humidity)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Strikes out a reading that stands. Gives it as it stood.
///
/// # Errors
/// [`AppError::NotFound`] when it does not stand (any more), or is another sac's.
pub async fn strike_reading(write: &mut Write, sac: SacId, id: SacReadingId) -> Result<SacReading, AppError> {
    let struck = readings(write.db(), sac).await?.into_iter().find(|one| one.id == id).ok_or(AppError::NotFound)?;
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO sac_reading (sac_id, at, day, member_id, written_at, corrects_id)
         SELECT sac_id, at, day, ?2, ?3, id FROM sac_reading_standing WHERE id = ?1",
    )
    .bind(id)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(struck)
}

/// The stages that somebody saw in a sac, the oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn seen(db: &mut SqliteConnection, sac: SacId) -> Result<Vec<Seen>, AppError> {
    Ok(sqlx::query_as(
        "SELECT s.id, s.stage, s.day, COALESCE(member.name, '') AS by_name
         FROM sac_seen_standing AS s LEFT JOIN member ON member.id = s.member_id WHERE s.sac_id = ? ORDER BY s.day, s.id",
    )
    .bind(sac)
    .fetch_all(db)
    .await?)
}

/// Notes that a stage was first seen on a day. Legs that are out of a pulled sac end its turning.
///
/// # Errors
/// A stage that a sac is not watched for, a day up to the laying or still to come, a day that does not fit the other stages, a
/// sac that failed before.
pub async fn see(write: &mut Write, id: SacId, stage: Stage, day: NaiveDate) -> Result<(), AppError> {
    let sac = require_sac(write.db(), id).await?;
    if !matches!(stage, Stage::PostEmbryo | Stage::Instar(1 | 2)) {
        return Err(AppError::refused("stage", "A sac is watched for post-embryos, first and second instar."));
    }
    check_past("day", day, write.today)?;
    if day <= sac.laid_on {
        return Err(AppError::refused("day", format!("The sac was laid on {}; enter a later day.", text::day(&sac.laid_on))));
    }
    if sac.state == SacState::Failed && sac.ended_on.is_some_and(|ended| day > ended) {
        return Err(AppError::refused("day", format!("This sac failed on {}.", text::day_or_dash(&sac.ended_on))));
    }
    fits(write, &sac, stage, day).await?;
    let (who, at) = (write.who, write.at);
    sqlx::query("INSERT INTO sac_seen (sac_id, stage, day, member_id, at) VALUES (?, ?, ?, ?, ?)")
        .bind(id)
        .bind(stage)
        .bind(day)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    if sac.state == SacState::Incubating && sac.pulled_on.is_some_and(|pulled| pulled <= day) {
        sqlx::query("UPDATE sac SET legs_out_on = ?, version = version + 1 WHERE id = ? AND legs_out_on IS NULL")
            .bind(day)
            .bind(id)
            .execute(write.db())
            .await?;
    }
    Ok(())
}

/// Earlier stages come first, later ones after.
async fn fits(write: &mut Write, sac: &Sac, stage: Stage, day: NaiveDate) -> Result<(), AppError> {
    let known: Vec<(Stage, NaiveDate)> =
        sqlx::query_as("SELECT stage, day FROM sac_stage WHERE sac_id = ?").bind(sac.id).fetch_all(write.db()).await?;
    for (other, on) in known {
        if other == stage && on <= day {
            return Err(AppError::refused("stage", format!("{other} was seen on {} already.", text::day(&on))));
        }
        if (other < stage && on > day) || (other > stage && on < day) {
            let order = if other < stage { "before" } else { "after" };
            return Err(AppError::refused(
                "day",
                format!("{other}, which comes {order} it, was seen on {}. Check the day.", text::day(&on)),
            ));
        }
    }
    Ok(())
}

/// Strikes out that a stage was seen. Gives it as it stood. Turning does not begin again by itself: legs that were out stay out
/// where a sign-off said so.
///
/// # Errors
/// [`AppError::NotFound`] when it does not stand (any more), or is another sac's.
pub async fn unsee(write: &mut Write, sac: SacId, id: SacSeenId) -> Result<Seen, AppError> {
    let struck = seen(write.db(), sac).await?.into_iter().find(|one| one.id == id).ok_or(AppError::NotFound)?;
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO sac_seen (sac_id, stage, day, member_id, at, corrects_id)
         SELECT sac_id, stage, day, ?2, ?3, id FROM sac_seen_standing WHERE id = ?1",
    )
    .bind(id)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    if seen(write.db(), sac).await?.is_empty() {
        sqlx::query(
            "UPDATE sac SET legs_out_on = NULL, version = version + 1 WHERE id = ? AND legs_out_signoff_id IS NULL AND legs_out_on = ?",
        )
        .bind(sac)
        .bind(struck.day)
        .execute(write.db())
        .await?;
    }
    Ok(struck)
}

/// Sets the base above which a sac's warmth is summed, in tenths of °C.
///
/// # Errors
/// The database can't be written.
pub async fn set_base(write: &mut Write, sac: SacId, decicelsius: i64) -> Result<(), AppError> {
    sqlx::query("UPDATE sac SET base_decicelsius = ?, version = version + 1 WHERE id = ?")
        .bind(decicelsius)
        .bind(sac)
        .execute(write.db())
        .await?;
    Ok(())
}
