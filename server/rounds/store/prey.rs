//! The prey that the coming days will take: who is fed when, on what, and how often each takes what it is offered.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::facts::{Moment, Scope, gather};
use crate::house::errors::AppError;
use crate::reckoning::calendar::days_after;
use crate::reckoning::planner::{FeedState, Subject, SubjectKey, SubjectKind, cohort_feed_state, feed_state};
use crate::reckoning::prey::{PlannedFeed, acceptance};

/// Offers further back than this say nothing of an animal's appetite now.
const DAYS_BACK: u64 = 180;

/// What a subject has been offered lately.
#[derive(Debug, Clone, sqlx::FromRow)]
struct Offers {
    subject: i64,
    offered: u32,
    taken: u32,
    prey: String,
}

/// The feeds that will fall due from a day on, for so many days, if each is done on the day that it falls due and nothing
/// moults meanwhile: one for each animal and each spiderling.
///
/// # Errors
/// The database can't be read.
pub(super) async fn planned_feeds(db: &mut SqliteConnection, moment: Moment, days: u32) -> Result<Vec<PlannedFeed>, AppError> {
    let subjects = gather(db, Scope::House, moment).await?.subjects;
    let since = moment.today.checked_sub_days(chrono::Days::new(DAYS_BACK)).unwrap_or(moment.today);
    let offers = offers(db, since).await?;
    let mut feeds = Vec::new();
    for subject in &subjects {
        let Some((key, first, every, mouths)) = next_feed(subject, moment.today) else { continue };
        let known = offers.get(&key);
        let prey = known.map_or("", |offers| offers.prey.as_str());
        let probability = known.map_or_else(|| acceptance(0, 0), |offers| acceptance(offers.offered, offers.taken));
        let last = days_after(moment.today, days.saturating_sub(1));
        let mut day = first;
        while day <= last {
            let feed = PlannedFeed { day, kind: kind(prey), size: String::new(), probability, prey: 1, offered: 1 };
            feeds.extend(std::iter::repeat_n(feed, mouths));
            day = days_after(day, every);
        }
    }
    Ok(feeds)
}

/// What was offered last stands for what will be offered next.
fn kind(prey: &str) -> String {
    if prey.is_empty() { "prey (kind not noted)".to_owned() } else { prey.to_owned() }
}

/// Whose it is, when it is fed next, every how many days after that, and how many mouths it has.
fn next_feed(subject: &Subject, today: NaiveDate) -> Option<(SubjectKey, NaiveDate, u32, usize)> {
    let (key, state, every, mouths) = match subject {
        Subject::Animal(facts) => {
            (SubjectKey { kind: SubjectKind::Animal, id: facts.id }, feed_state(facts, today), facts.care.feed_min_days, 1)
        }
        Subject::Cohort(facts) => {
            let mouths = usize::try_from(facts.feeding()).unwrap_or(usize::MAX);
            (SubjectKey { kind: SubjectKind::Cohort, id: facts.id }, cohort_feed_state(facts, today), facts.care.feed_min_days, mouths)
        }
        Subject::Sac(_) | Subject::Room(_) => return None,
    };
    let first = match state {
        FeedState::Due { .. } => today,
        FeedState::NotBefore { day, .. } => day?.max(today),
    };
    Some((key, first, every.max(1), mouths))
}

async fn offers(db: &mut SqliteConnection, since: NaiveDate) -> Result<BTreeMap<SubjectKey, Offers>, AppError> {
    let animals: Vec<Offers> = sqlx::query_as(
        "SELECT animal_id AS subject, COUNT(*) AS offered, SUM(outcome = 'took') AS taken,
                (SELECT last.prey FROM meal_standing AS last WHERE last.animal_id = meal.animal_id
                 ORDER BY last.day DESC, last.id DESC LIMIT 1) AS prey
         FROM meal_standing AS meal JOIN animal ON animal.id = meal.animal_id
         WHERE animal.status = 'alive' AND meal.day >= ? GROUP BY animal_id",
    )
    .bind(since)
    .fetch_all(&mut *db)
    .await?;
    let cohorts: Vec<Offers> = sqlx::query_as(
        "SELECT cohort_id AS subject, SUM(took + refused + left_in) AS offered, SUM(took) AS taken,
                (SELECT last.prey FROM cohort_meal_standing AS last WHERE last.cohort_id = meal.cohort_id
                 ORDER BY last.day DESC, last.id DESC LIMIT 1) AS prey
         FROM cohort_meal_standing AS meal WHERE day >= ? GROUP BY cohort_id",
    )
    .bind(since)
    .fetch_all(&mut *db)
    .await?;
    let of = |kind, offers: Vec<Offers>| offers.into_iter().map(move |offers| (SubjectKey { kind, id: offers.subject }, offers));
    Ok(of(SubjectKind::Animal, animals).chain(of(SubjectKind::Cohort, cohorts)).collect())
}
