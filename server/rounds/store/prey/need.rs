//! The prey that the coming days will take: who is fed when, on what, and how often each takes what it is offered.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::usual::book;
use crate::handling;
use crate::house::errors::AppError;
use crate::reckoning::planner::{self, SiteRules, SubjectKey, SubjectKind};
use crate::reckoning::prey::{PlannedFeed, acceptance};
use crate::rounds::model::prey::UsualBook;
use crate::rounds::store::facts::{Moment, Scope, gather};

/// Offers further back than this say nothing of an animal's appetite now.
const DAYS_BACK: u64 = 180;

/// What a subject has been offered lately, and how much of it was used: taken, or left in.
#[derive(Debug, Clone, sqlx::FromRow)]
struct Offers {
    subject: i64,
    offered: u32,
    used: u32,
    prey: String,
}

/// What one mouth is expected to take at a feed.
struct Meal {
    kind: String,
    size: String,
    probability: f64,
    each: u32,
}

/// The feeds that will fall due from today on, for so many days, if each is done on the day that it falls due and nothing
/// moults meanwhile: one for each animal and each spiderling. The chance is that the prey is used: taken or left in; what
/// is pre-killed is used whatever becomes of it.
///
/// # Errors
/// The database can't be read.
pub async fn coming_feeds(db: &mut SqliteConnection, at: DateTime<Utc>, zone: Tz, days: u32) -> Result<Vec<PlannedFeed>, AppError> {
    let moment = Moment::new(at, zone);
    let subjects = gather(db, Scope::House, moment).await?.subjects;
    let table = handling::store::exposure_table(&mut *db).await?;
    let rules = SiteRules { zone, ..SiteRules::default() };
    let since = moment.today.checked_sub_days(chrono::Days::new(DAYS_BACK)).unwrap_or(moment.today);
    let (usual, offers) = (book(&mut *db).await?, offers(db, since).await?);
    let mut meals: BTreeMap<SubjectKey, Meal> = BTreeMap::new();
    let mut feeds = Vec::new();
    for coming in planner::coming_feeds(moment.today, days, &subjects, &rules, &table) {
        let key = coming.subject;
        let meal = meals.entry(key).or_insert_with(|| meal(&usual, key, offers.get(&key)));
        let feed = PlannedFeed {
            day: coming.day,
            kind: meal.kind.clone(),
            size: meal.size.clone(),
            probability: meal.probability,
            prey: meal.each,
            offered: meal.each,
        };
        feeds.extend(std::iter::repeat_n(feed, usize::try_from(coming.mouths).unwrap_or(usize::MAX)));
    }
    Ok(feeds)
}

/// What it is usually given; without a list, what was offered last stands for what will be offered next.
fn meal(usual: &UsualBook, key: SubjectKey, known: Option<&Offers>) -> Meal {
    let used = known.map_or_else(|| acceptance(0, 0), |offers| acceptance(offers.offered, offers.used));
    let chosen = usual.of(key).and_then(|chosen| Some((chosen.offer, usual.kind(chosen.offer.kind)?)));
    match (chosen, known) {
        (Some((offer, kind)), _) => {
            let probability = if offer.killed { 1.0 } else { used };
            Meal { kind: kind.name.clone(), size: kind.size.clone(), probability, each: offer.each }
        }
        (None, Some(offers)) if usual.kinds.is_empty() && !offers.prey.is_empty() => {
            Meal { kind: offers.prey.clone(), size: String::new(), probability: used, each: 1 }
        }
        (None, _) => {
            let kind = if usual.kinds.is_empty() { "prey (kind not noted)" } else { "prey (none of the list is small enough)" };
            Meal { kind: kind.to_owned(), size: String::new(), probability: used, each: 1 }
        }
    }
}

async fn offers(db: &mut SqliteConnection, since: NaiveDate) -> Result<BTreeMap<SubjectKey, Offers>, AppError> {
    let animals: Vec<Offers> = sqlx::query_as(
        "SELECT animal_id AS subject, COUNT(*) AS offered, SUM(outcome <> 'refused' OR prey_spent = 1) AS used,
                (SELECT last.prey FROM meal_standing AS last WHERE last.animal_id = meal.animal_id
                 ORDER BY last.day DESC, last.id DESC LIMIT 1) AS prey
         FROM meal_standing AS meal JOIN animal ON animal.id = meal.animal_id
         WHERE animal.status = 'alive' AND meal.day >= ? GROUP BY animal_id",
    )
    .bind(since)
    .fetch_all(&mut *db)
    .await?;
    let cohorts: Vec<Offers> = sqlx::query_as(
        "SELECT cohort_id AS subject, SUM(took + refused + left_in) AS offered, SUM(took + left_in + prey_spent) AS used,
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
