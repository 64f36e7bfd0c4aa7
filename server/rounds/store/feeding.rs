//! When one subject's next meal is due, for papers that tell somebody else.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::facts::{Moment, Scope, gather};
use crate::house::clock::local_date;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId};
use crate::reckoning::planner::{FeedState, Subject, cohort_feed_state, feed_state};

/// Where an animal's feeding stands at an instant; nothing when it is not alive in the house.
///
/// # Errors
/// The database can't be read.
pub async fn next_feed_of_animal(
    db: &mut SqliteConnection,
    id: AnimalId,
    at: DateTime<Utc>,
    zone: Tz,
) -> Result<Option<FeedState>, AppError> {
    next_feed(db, Scope::Animal(id), at, zone).await
}

/// Where a cohort's feeding stands at an instant; nothing when nothing of it is alive.
///
/// # Errors
/// The database can't be read.
pub async fn next_feed_of_cohort(
    db: &mut SqliteConnection,
    id: CohortId,
    at: DateTime<Utc>,
    zone: Tz,
) -> Result<Option<FeedState>, AppError> {
    next_feed(db, Scope::Cohort(id), at, zone).await
}

async fn next_feed(db: &mut SqliteConnection, scope: Scope, at: DateTime<Utc>, zone: Tz) -> Result<Option<FeedState>, AppError> {
    let today = local_date(zone, at);
    let gathered = gather(db, scope, Moment { at, today, zone }).await?;
    Ok(gathered.subjects.first().map(|subject| match subject {
        Subject::Animal(facts) => feed_state(facts, today),
        Subject::Cohort(facts) => cohort_feed_state(facts, today),
        Subject::Sac(_) => FeedState::NotBefore { day: None, reason: "a sac is not fed".to_owned() },
    }))
}
