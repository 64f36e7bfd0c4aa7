//! Who has what somebody else asks for: who handed it over and when, for whom it is reserved and until when.

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{CohortId, HandoverId};
use crate::house::text;
use crate::sales::model::{Item, Keeper, Reservation};

/// What is reserved of an item for others than `but_for`: `until 20 Apr 2026 for order 3 (by Dee)`.
///
/// # Errors
/// The database can't be read.
pub async fn kept_for_others(db: &mut SqliteConnection, item: Item, day: NaiveDate, but_for: Keeper) -> Result<Vec<String>, AppError> {
    let kept = standing_of(db, item, day).await?;
    let others = kept.into_iter().filter(|kept| !kept.is_for(but_for));
    Ok(others.map(|kept| kept.words()).collect())
}

/// What stands of an item on a day, by its last day; of a lot, what stands of its whole cohort.
///
/// # Errors
/// The database can't be read.
pub async fn standing_of(db: &mut SqliteConnection, item: Item, day: NaiveDate) -> Result<Vec<Reservation>, AppError> {
    match item {
        Item::Lot(lot) => standing_of_cohort(db, lot.cohort, day).await,
        Item::Animal(animal) => {
            Ok(sqlx::query_as("SELECT * FROM reservation_shown WHERE animal_id = ? AND ended_as IS NULL AND until >= ?")
                .bind(animal)
                .bind(day)
                .fetch_all(db)
                .await?)
        }
    }
}

/// What stands of a cohort on a day, by its last day.
///
/// # Errors
/// The database can't be read.
pub async fn standing_of_cohort(db: &mut SqliteConnection, cohort: CohortId, day: NaiveDate) -> Result<Vec<Reservation>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM reservation_shown WHERE cohort_id = ? AND ended_as IS NULL AND until >= ? ORDER BY until, id")
        .bind(cohort)
        .bind(day)
        .fetch_all(db)
        .await?)
}

#[derive(sqlx::FromRow)]
struct Gone {
    handover_id: HandoverId,
    quantity: u32,
    done_by: String,
    done_at: DateTime<Utc>,
}

/// Who has it, as sentences that follow another; empty when nobody has.
///
/// # Errors
/// The database can't be read.
pub async fn told(db: &mut SqliteConnection, item: Item, day: NaiveDate, but_for: Keeper) -> Result<String, AppError> {
    let (animal, cohort) = match item {
        Item::Animal(animal) => (Some(animal), None),
        Item::Lot(lot) => (None, Some(lot.cohort)),
    };
    let gone: Vec<Gone> = sqlx::query_as(
        "SELECT handover.id AS handover_id, line.quantity, member.name AS done_by, handover.done_at
         FROM handover_line AS line JOIN handover ON handover.id = line.handover_id JOIN member ON member.id = handover.done_by
         WHERE (line.animal_id = ?1 OR line.cohort_id = ?2) AND handover.state = 'done' AND (?1 IS NOT NULL OR handover.day = ?3)
         ORDER BY handover.done_at DESC LIMIT 3",
    )
    .bind(animal)
    .bind(cohort)
    .bind(day)
    .fetch_all(&mut *db)
    .await?;
    let zone = crate::house::site::Site::read(&mut *db).await?.zone;
    let mut told = String::new();
    for gone in gone {
        let (at, what) = (text::instant(&gone.done_at, &zone), if animal.is_some() { "it".to_owned() } else { gone.quantity.to_string() });
        told.push_str(&format!(" {} handed {what} over on {at} (handover {}).", gone.done_by, gone.handover_id));
    }
    let kept = standing_of(db, item, day).await?;
    for kept in kept.iter().filter(|kept| !kept.is_for(but_for)) {
        told.push_str(&format!(
            " {} reserved {}.",
            if animal.is_some() { "It is".to_owned() } else { format!("{} are", kept.quantity) },
            kept.words()
        ));
    }
    Ok(told)
}
