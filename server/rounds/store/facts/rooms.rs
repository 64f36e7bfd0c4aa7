//! The facts of rooms in which stock stands.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::{Gathered, Moment, Scope};
use crate::house::errors::AppError;
use crate::reckoning::planner::{RoomFacts, Subject, SubjectKind};

#[derive(sqlx::FromRow)]
struct RoomRow {
    id: i64,
    racks: u32,
    last_reading: Option<NaiveDate>,
    open_since: Option<NaiveDate>,
}

/// Adds the rooms of a scope in which stock stands. While a room has no reading at all, they are due from the day that
/// the open duty fell due, or from today.
pub(super) async fn gather(db: &mut SqliteConnection, scope: Scope, moment: Moment, into: &mut Gathered) -> Result<(), AppError> {
    let (first, last) = scope.ids(SubjectKind::Room);
    let rows: Vec<RoomRow> = sqlx::query_as(
        "WITH holding AS (
             SELECT shelf_id FROM animal WHERE status = 'alive' AND shelf_id IS NOT NULL
             UNION
             SELECT shelf_id FROM cohort WHERE shelf_id IS NOT NULL AND EXISTS (
                 SELECT 1 FROM ledger_balance AS b JOIN bucket ON bucket.code = b.bucket
                 WHERE b.cohort_id = cohort.id AND bucket.kind = 'stage' AND b.quantity > 0)
             UNION
             SELECT shelf_id FROM sac WHERE state = 'incubating' AND shelf_id IS NOT NULL)
         SELECT rack.room_id AS id, COUNT(DISTINCT rack.id) AS racks,
                (SELECT MAX(r.day) FROM climate_reading_standing AS r WHERE r.room_id = rack.room_id AND r.at >= ?3) AS last_reading,
                (SELECT due_on FROM duty WHERE duty.room_id = rack.room_id AND kind = 'room-reading' AND state = 'open') AS open_since
         FROM holding JOIN shelf ON shelf.id = holding.shelf_id JOIN rack ON rack.id = shelf.rack_id
         WHERE rack.room_id BETWEEN ?1 AND ?2
         GROUP BY rack.room_id ORDER BY rack.room_id",
    )
    .bind(first)
    .bind(last)
    .bind(moment.at - chrono::TimeDelta::days(DAYS_BACK))
    .fetch_all(db)
    .await?;
    into.subjects.extend(rows.into_iter().map(|row| {
        let since = row.open_since.unwrap_or(moment.today);
        Subject::Room(RoomFacts { id: row.id, racks: row.racks, last_reading: row.last_reading, since })
    }));
    Ok(())
}

/// How far back a reading is looked for, in days: an older one is as good as none, and the duty has long been late.
const DAYS_BACK: i64 = 400;
