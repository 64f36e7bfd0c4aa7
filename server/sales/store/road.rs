//! The house's rules for the road, and the journeys of what is sent.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::require_draft;
use crate::house::errors::AppError;
use crate::house::ids::HandoverId;
use crate::house::write::Write;
use crate::reckoning::calendar::{day_in, days_after, written};
use crate::reckoning::dispatch::{Verdict, dispatch};
use crate::reckoning::sale_readiness::Finding;
use crate::sales::model::{Handover, Journey, NewJourney, RoadRules, Sent, Way};

/// The rules as they stand.
///
/// # Errors
/// The database can't be read.
pub async fn rules(db: &mut SqliteConnection) -> Result<RoadRules, AppError> {
    Ok(sqlx::query_as(
        "SELECT lowest_tenths, highest_tenths, pack_below_tenths, pack_judge_tenths, weekdays, claim_hours, return_hold_days,
                outing_hold_days, version FROM road_rules WHERE id = 1",
    )
    .fetch_one(db)
    .await?)
}

/// Changes the rules.
///
/// # Errors
/// A conflict when somebody else changed them since `new.version` was read.
pub async fn change_rules(write: &mut Write, new: &RoadRules) -> Result<(), AppError> {
    let changed = sqlx::query(
        "UPDATE road_rules SET lowest_tenths = ?, highest_tenths = ?, pack_below_tenths = ?, pack_judge_tenths = ?, weekdays = ?,
                claim_hours = ?, return_hold_days = ?, outing_hold_days = ?, version = version + 1 WHERE id = 1 AND version = ?",
    )
    .bind(new.lowest_tenths)
    .bind(new.highest_tenths)
    .bind(new.pack_below_tenths)
    .bind(new.pack_judge_tenths)
    .bind(new.weekdays)
    .bind(new.claim_hours)
    .bind(new.return_hold_days)
    .bind(new.outing_hold_days)
    .bind(new.version)
    .execute(write.db())
    .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("Somebody changed these rules since you opened the page. Open it again and look first."));
    }
    Ok(())
}

/// The first instant after a local day.
pub(super) fn end_of(zone: Tz, day: NaiveDate) -> Result<DateTime<Utc>, AppError> {
    // A zone may have skipped a day: then the one after it is the end.
    let start = day_in(zone, days_after(day, 1)).or_else(|_| day_in(zone, days_after(day, 2)));
    start.map(|next| next.start).map_err(|error| AppError::refused("until", error.to_string()))
}

/// Changes the way in which a handover leaves.
///
/// # Errors
/// A handover that has ended, or one that is made at a stall.
pub async fn set_way(write: &mut Write, id: HandoverId, way: Way) -> Result<Handover, AppError> {
    let before = require_draft(write.db(), id).await?;
    if before.outing_id.is_some() || way == Way::Outing {
        return Err(AppError::conflict(
            "What is sold on an outing is handed over there. Begin another handover for what is sent or collected.",
        ));
    }
    sqlx::query("UPDATE handover SET way = ?, version = version + 1 WHERE id = ?").bind(way).bind(id).execute(write.db()).await?;
    Ok(before)
}

/// Plans the journey of a handover, which is sent from now on; an earlier plan stands no longer.
///
/// # Errors
/// As [`set_way`].
pub async fn plan_journey(write: &mut Write, id: HandoverId, new: &NewJourney) -> Result<(), AppError> {
    set_way(write, id, Way::Dispatch).await?;
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO journey (handover_id, carrier, day, unit, here_low, here_high, there_low, there_high, note, member_id, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(id)
    .bind(&new.carrier)
    .bind(new.day)
    .bind(new.unit.code())
    .bind(new.here.low)
    .bind(new.here.high)
    .bind(new.there.low)
    .bind(new.there.high)
    .bind(&new.note)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}

/// The journey of a handover as it is planned.
///
/// # Errors
/// The database can't be read.
pub async fn journey(db: &mut SqliteConnection, id: HandoverId) -> Result<Option<Journey>, AppError> {
    Ok(sqlx::query_as(
        "SELECT carrier, day, unit, here_low, here_high, there_low, there_high, note, member.name AS member_name
         FROM journey_standing AS journey LEFT JOIN member ON member.id = journey.member_id WHERE journey.handover_id = ?",
    )
    .bind(id)
    .fetch_optional(db)
    .await?)
}

/// What the rules say of a planned journey.
///
/// # Errors
/// The database can't be read.
pub async fn judged(db: &mut SqliteConnection, journey: &Journey) -> Result<Verdict, AppError> {
    let rules = rules(db).await?;
    dispatch(&journey.facts(), &rules.dispatch()).map_err(|error| AppError::Internal(error.into()))
}

/// What speaks against sending a handover today; nothing for one that is not sent.
///
/// # Errors
/// The database can't be read.
pub async fn against(db: &mut SqliteConnection, handover: &Handover, today: NaiveDate) -> Result<Vec<Finding>, AppError> {
    if handover.way != Way::Dispatch {
        return Ok(Vec::new());
    }
    let stops = |text: String| Finding { blocks: true, text };
    let Some(journey) = journey(&mut *db, handover.id).await? else {
        return Ok(vec![stops("no journey is planned: enter the carrier, the day and the forecast at both ends".to_owned())]);
    };
    let mut findings = judged(db, &journey).await?.findings;
    if journey.day != today {
        findings.push(stops(format!("planned for {}, so its forecast is not today's", written(journey.day))));
    }
    Ok(findings)
}

/// What is to be sent: drafts that leave by dispatch, the next day first.
///
/// # Errors
/// The database can't be read.
pub async fn to_send(db: &mut SqliteConnection) -> Result<Vec<Sent>, AppError> {
    Ok(sqlx::query_as(
        "SELECT handover.id AS handover_id, handover.buyer_id, buyer.name AS buyer_name, journey.carrier, journey.day,
                (SELECT COALESCE(SUM(quantity), 0) FROM handover_line WHERE handover_line.handover_id = handover.id) AS animals,
                NULL AS arrived_at, 0 AS dead, 0 AS injured
         FROM handover JOIN buyer ON buyer.id = handover.buyer_id
         LEFT JOIN journey_standing AS journey ON journey.handover_id = handover.id
         WHERE handover.state = 'draft' AND handover.way = 'dispatch' ORDER BY journey.day IS NULL, journey.day, handover.id",
    )
    .fetch_all(db)
    .await?)
}

/// What was sent, the newest first: with how it arrived, or only what nobody has told of yet.
///
/// # Errors
/// The database can't be read.
pub async fn sent(db: &mut SqliteConnection, untold: bool, most: i64) -> Result<Vec<Sent>, AppError> {
    Ok(sqlx::query_as(
        "SELECT handover.id AS handover_id, handover.buyer_id, buyer.name AS buyer_name, journey.carrier, handover.day,
                (SELECT COALESCE(SUM(quantity), 0) FROM handover_line WHERE handover_line.handover_id = handover.id) AS animals,
                arrival.arrived_at,
                (SELECT COALESCE(SUM(dead), 0) FROM arrival_line WHERE arrival_line.arrival_id = arrival.id) AS dead,
                (SELECT COALESCE(SUM(injured), 0) FROM arrival_line WHERE arrival_line.arrival_id = arrival.id) AS injured
         FROM handover JOIN buyer ON buyer.id = handover.buyer_id
         LEFT JOIN journey_standing AS journey ON journey.handover_id = handover.id
         LEFT JOIN arrival_standing AS arrival ON arrival.handover_id = handover.id
         WHERE handover.state = 'done' AND handover.way = 'dispatch' AND (arrival.id IS NULL) = ?
         ORDER BY handover.day DESC, handover.id DESC LIMIT ?",
    )
    .bind(untold)
    .bind(most)
    .fetch_all(db)
    .await?)
}
