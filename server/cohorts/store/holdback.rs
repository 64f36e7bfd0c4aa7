//! Spiderlings held back for breeding: not for sale until released.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::ledger::{alive, check_day};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId};
use crate::house::write::Write;
use crate::reckoning::words::{Sex, SexBasis, SpanMethod};

/// How many are held back for breeding: what was entered, and never more than are alive.
///
/// # Errors
/// The database can't be read.
pub async fn held_back(db: &mut SqliteConnection, cohort: CohortId) -> Result<i64, AppError> {
    let entered: i64 =
        sqlx::query_scalar("SELECT COALESCE(SUM(quantity), 0) FROM holdback WHERE cohort_id = ?").bind(cohort).fetch_one(&mut *db).await?;
    Ok(entered.min(alive(db, cohort).await?))
}

/// Holds so many back for breeding, or releases them when the quantity is negative.
///
/// # Errors
/// Holding back more than are free, releasing more than are held, a day outside the cohort's life.
pub async fn hold_back(write: &mut Write, cohort: CohortId, day: NaiveDate, quantity: i64, reason: &str) -> Result<(), AppError> {
    check_day(write, cohort, day).await?;
    let (alive, entered) = (alive(write.db(), cohort).await?, entered_holdback(write.db(), cohort).await?);
    let held = entered.min(alive);
    if quantity > alive - held {
        return Err(AppError::refused(
            "quantity",
            format!("Only {} are free to hold back: {alive} alive, {held} held already.", alive - held),
        ));
    }
    if quantity < -held {
        return Err(AppError::refused("quantity", format!("Only {held} are held back, so no more than that can be released.")));
    }
    // Losses may have left fewer alive than were held back: those are no longer held, so they go first.
    let change = quantity - (entered - held);
    if change == 0 {
        return Ok(());
    }
    let (who, at) = (write.who, write.at);
    sqlx::query("INSERT INTO holdback (cohort_id, day, quantity, reason, member_id, at) VALUES (?, ?, ?, ?, ?, ?)")
        .bind(cohort)
        .bind(day)
        .bind(change)
        .bind(reason)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

async fn entered_holdback(db: &mut SqliteConnection, cohort: CohortId) -> Result<i64, AppError> {
    Ok(sqlx::query_scalar("SELECT COALESCE(SUM(quantity), 0) FROM holdback WHERE cohort_id = ?").bind(cohort).fetch_one(db).await?)
}

/// A living animal that was tagged out of a cohort, as holding back looks at it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct TaggedCandidate {
    /// The animal.
    pub id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// What it is known to be.
    pub sex: Sex,
    /// What that rests on.
    pub sex_basis: SexBasis,
    /// Its leg span, mm.
    pub span_mm: Option<i64>,
    /// How that was taken.
    pub span_method: Option<SpanMethod>,
    /// Its instar, where it is known.
    pub instar: Option<i64>,
    /// Why it is held back, if it is.
    pub held_for: Option<String>,
}

/// The living animals that were tagged out of a cohort, by tag.
///
/// # Errors
/// The database can't be read.
pub async fn tagged_alive(db: &mut SqliteConnection, cohort: CohortId) -> Result<Vec<TaggedCandidate>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag, animal.sex, animal.sex_basis, now.span_mm, now.span_method,
                animal.start_instar + (SELECT COUNT(*) FROM moult_standing AS m
                    WHERE m.animal_id = animal.id AND m.day >= animal.started_on) AS instar,
                held.reason AS held_for
         FROM ledger_line AS line JOIN animal ON animal.origin_line_id = line.id JOIN animal_now AS now ON now.animal_id = animal.id
         LEFT JOIN animal_held_back AS held ON held.animal_id = animal.id
         WHERE line.cohort_id = ? AND animal.status = 'alive' ORDER BY animal.tag",
    )
    .bind(cohort)
    .fetch_all(db)
    .await?)
}
