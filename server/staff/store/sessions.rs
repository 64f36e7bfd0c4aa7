//! SQL of a member's standing sign-ins.

use chrono::{DateTime, Utc};
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::MemberId;
use crate::staff::model::SessionRow;

/// The sign-ins of a member that have not run out, the last used first.
///
/// # Errors
/// The database can't be read.
pub async fn of_member(db: &mut SqliteConnection, member: MemberId, now: DateTime<Utc>) -> Result<Vec<SessionRow>, AppError> {
    let mut rows: Vec<SessionRow> = sqlx::query_as(
        "SELECT id_hash, device, created_at, last_seen_at FROM session WHERE member_id = ? AND expires_at > ? ORDER BY last_seen_at DESC, id_hash",
    )
    .bind(member)
    .bind(now)
    .fetch_all(db)
    .await?;
    rows.retain(|row| now - row.last_seen_at < crate::house::session::idle_limit());
    Ok(rows)
}
