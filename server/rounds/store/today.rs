//! What the lead looks at besides duties.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::SacId;

/// A sac that is with its dam and may be pulled.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct SacToPull {
    /// Its id.
    pub id: SacId,
    /// Its species.
    pub species: String,
    /// The day it was laid.
    pub laid_on: NaiveDate,
    /// The first usual day to pull it.
    pub from_on: NaiveDate,
    /// The last.
    pub to_on: NaiveDate,
}

/// The sacs whose pull window has begun by a day, the longest due first.
///
/// # Errors
/// The database can't be read.
pub async fn sacs_to_pull(db: &mut SqliteConnection, today: NaiveDate) -> Result<Vec<SacToPull>, AppError> {
    Ok(sqlx::query_as(
        "SELECT sac.id, species.accepted_name AS species, sac.laid_on,
                date(sac.laid_on, '+' || species.pull_from_day || ' days') AS from_on,
                date(sac.laid_on, '+' || species.pull_to_day || ' days') AS to_on
         FROM sac JOIN species ON species.id = sac.species_id
         WHERE sac.state = 'incubating' AND sac.incubation = 'with-dam' AND date(sac.laid_on, '+' || species.pull_from_day || ' days') <= ?
         ORDER BY to_on, sac.id",
    )
    .bind(today)
    .fetch_all(db)
    .await?)
}
