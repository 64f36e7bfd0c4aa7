//! Counts that were made twice, at the opening of a sac and at separation.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::{balance_on, recount, separate};
use crate::cohorts::model::CountCheck;
use crate::house::errors::AppError;
use crate::house::ids::CohortId;
use crate::house::write::Write;
use crate::reckoning::breeding::counts::{Settled, Tally};
use crate::reckoning::stage::Stage;

/// Keeps the counts that a cohort began with, or, with what the book had, those at separation. Gives the count that is taken.
///
/// # Errors
/// Counts of which no two agree.
pub async fn keep_tally(write: &mut Write, cohort: CohortId, day: NaiveDate, tally: Tally, book: Option<u32>) -> Result<u32, AppError> {
    let Settled::Accepted { count, difference } = tally.settled() else {
        return Err(AppError::refused("third", tally.ask().unwrap_or_default()));
    };
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO count_check (cohort_id, what, day, first, second, third, accepted, difference, book, member_id, at)
         VALUES (?1, CASE WHEN ?8 IS NULL THEN 'opening' ELSE 'separation' END, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
    )
    .bind(cohort)
    .bind(day)
    .bind(tally.first)
    .bind(tally.second)
    .bind(tally.third)
    .bind(count)
    .bind(difference)
    .bind(book)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(count)
}

/// Puts a communal cohort into vials by the count that is taken of it: where it differs from the book, the difference becomes a
/// correction in the ledger. Gives how many lines that took.
///
/// # Errors
/// Counts of which no two agree, or of which the last is not the one by stage; a cohort in vials already, a day outside its life.
pub async fn separate_counted(
    write: &mut Write,
    cohort: CohortId,
    day: NaiveDate,
    tally: Tally,
    counted: &BTreeMap<Stage, u32>,
) -> Result<usize, AppError> {
    let book = balance_on(write.db(), cohort, day).await?;
    let taken = keep_tally(write, cohort, day, tally, Some(book.alive())).await?;
    if taken != counted.values().sum::<u32>() {
        return Err(AppError::refused("third", "The last count does not add up. Enter it again."));
    }
    // A stage that the book has and nobody counted holds none.
    let mut whole: BTreeMap<Stage, u32> = book.stages().into_keys().map(|stage| (stage, 0)).collect();
    whole.extend(counted.iter().map(|(stage, count)| (*stage, *count)));
    let lines = recount(write, cohort, day, &whole, "counted at separation").await?;
    separate(write, cohort, day).await?;
    Ok(lines)
}

/// The counts that were made of a cohort at its opening and its separation, the oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn tallies(db: &mut SqliteConnection, cohort: CohortId) -> Result<Vec<CountCheck>, AppError> {
    Ok(sqlx::query_as(
        "SELECT what, day, first, second, third, accepted, difference, book FROM count_check WHERE cohort_id = ? ORDER BY id",
    )
    .bind(cohort)
    .fetch_all(db)
    .await?)
}
