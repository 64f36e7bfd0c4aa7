//! When one subject's next meal is due, for papers that tell somebody else. Prey that is still in goes out before it is
//! packed, so it does not count here.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::facts::{Moment, Scope, animal_facts, gather};
use crate::house::clock::local_date;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId};
use crate::reckoning::planner::{AnimalFacts, CohortFacts, FeedState, Subject, cohort_feed_state, feed_state};

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
    let facts = animal_facts(db, id, at, zone).await?;
    Ok(facts.map(|facts| feed_state(&AnimalFacts { left_in_at: None, ..facts }, local_date(zone, at))))
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
    let today = local_date(zone, at);
    let gathered = gather(db, Scope::Cohort(id), Moment { at, today, zone }).await?;
    Ok(gathered.subjects.into_iter().find_map(|subject| match subject {
        Subject::Cohort(facts) => Some(cohort_feed_state(&CohortFacts { left_in_at: None, ..facts }, today)),
        Subject::Animal(_) | Subject::Sac(_) | Subject::Room(_) => None,
    }))
}
