//! What keepers do with a cohort as a group: meals, moves, separating into vials, and striking out a sign-off.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::ledger::{check_day, reverse_because};
use crate::animals::model::Offer;
use crate::cohorts::model::{Housing, NewCohortMeal, NewCohortMove};
use crate::house::errors::AppError;
use crate::house::ids::{CohortId, LineId, PreyKindId, ShelfId, SignoffId};
use crate::house::text;
use crate::house::write::Write;
use crate::rooms;

#[derive(sqlx::FromRow)]
struct MealRow {
    id: i64,
    cohort_id: CohortId,
    day: NaiveDate,
    offered_at: String,
    prey: String,
    took: u32,
    refused: u32,
    left_in: u32,
    prey_kind_id: Option<PreyKindId>,
    prey_each: u32,
    prey_spent: u32,
    root_signoff_id: Option<SignoffId>,
}

/// What stands of a meal: how many took it, refused it, had it left in, and from how many that refused it did not go back.
#[derive(Clone, Copy)]
struct Told {
    took: u32,
    refused: u32,
    left_in: u32,
    prey_spent: u32,
}

impl MealRow {
    fn told(&self) -> Told {
        Told { took: self.took, refused: self.refused, left_in: self.left_in, prey_spent: self.prey_spent }
    }
}

/// Records what a cohort in vials did with a meal that was not taken from stock.
///
/// # Errors
/// More vials than spiderlings alive, a day outside the cohort's life.
pub async fn record_meal(write: &mut Write, cohort: CohortId, meal: &NewCohortMeal) -> Result<(), AppError> {
    record_meal_from(write, cohort, meal, None).await
}

/// Records what a cohort in vials did with a meal, and what it took from stock: live prey that was refused goes back,
/// pre-killed prey does not. Without words of its own the meal carries those of the list.
///
/// # Errors
/// More vials than spiderlings alive, a day outside the cohort's life.
pub async fn record_meal_from(write: &mut Write, cohort: CohortId, meal: &NewCohortMeal, offer: Option<Offer>) -> Result<(), AppError> {
    check_day(write, cohort, meal.day).await?;
    let (alive, told) = (super::alive(write.db(), cohort).await?, i64::from(meal.took) + i64::from(meal.refused) + i64::from(meal.left_in));
    if told > alive {
        return Err(AppError::refused("took", format!("Only {alive} are alive, but the figures add up to {told}.")));
    }
    let (who, at, offered_at) = (write.who, write.at, write.made_at);
    sqlx::query(
        "INSERT INTO cohort_meal (cohort_id, day, offered_at, prey, took, refused, left_in, signoff_id, member_id, at,
                                  prey_kind_id, prey_each, prey_spent)
         VALUES (?1, ?2, ?3, COALESCE(NULLIF(?4, ''), (SELECT name || ', ' || size FROM prey_kind WHERE id = ?11), ''),
                 ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
    )
    .bind(cohort)
    .bind(meal.day)
    .bind(offered_at)
    .bind(&meal.prey)
    .bind(meal.took)
    .bind(meal.refused)
    .bind(meal.left_in)
    .bind(meal.signoff)
    .bind(who)
    .bind(at)
    .bind(offer.map(|offer| offer.kind))
    .bind(offer.map_or(0, |offer| offer.each))
    .bind(if offer.is_some_and(|offer| offer.killed) { meal.refused } else { 0 })
    .execute(write.db())
    .await?;
    Ok(())
}

/// Corrects the standing meal whose prey was left in: of those vials, so many took it since, and from so many it was
/// taken out. What is not told counts as taken out.
///
/// # Errors
/// More than were left in. Without such a meal nothing happens.
pub async fn clear_left_in(
    write: &mut Write,
    cohort: CohortId,
    took: u32,
    refused: u32,
    signoff: Option<SignoffId>,
) -> Result<(), AppError> {
    let Some(meal) = left_in(write.db(), cohort).await? else { return Ok(()) };
    let told = took.saturating_add(refused);
    if told > meal.left_in {
        return Err(AppError::refused("took", format!("Prey was left in {} vials, but the figures add up to {told}.", meal.left_in)));
    }
    let rest = meal.left_in - took;
    // What lay there overnight does not go back to stock.
    let told = Told { took: meal.took + took, refused: meal.refused + rest, left_in: 0, prey_spent: meal.prey_spent + rest };
    correct(write, &meal, told, signoff, false).await
}

/// The newest standing meal with prey left in.
async fn left_in(db: &mut SqliteConnection, cohort: CohortId) -> Result<Option<MealRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, cohort_id, day, offered_at, prey, took, refused, left_in, prey_kind_id, prey_each, prey_spent,
                NULL AS root_signoff_id
         FROM cohort_meal_standing WHERE cohort_id = ? AND left_in > 0 ORDER BY day DESC, id DESC LIMIT 1",
    )
    .bind(cohort)
    .fetch_optional(db)
    .await?)
}

/// Enters a meal in the place of an earlier entry, or strikes it out.
async fn correct(write: &mut Write, meal: &MealRow, told: Told, signoff: Option<SignoffId>, void: bool) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO cohort_meal (cohort_id, day, offered_at, prey, took, refused, left_in, signoff_id, member_id, at, corrects_id, void,
                                  prey_kind_id, prey_each, prey_spent)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(meal.cohort_id)
    .bind(meal.day)
    .bind(&meal.offered_at)
    .bind(&meal.prey)
    .bind(told.took)
    .bind(told.refused)
    .bind(told.left_in)
    .bind(signoff)
    .bind(who)
    .bind(at)
    .bind(meal.id)
    .bind(void)
    .bind(meal.prey_kind_id)
    .bind(meal.prey_each)
    .bind(told.prey_spent)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Takes back what a sign-off brought: its meal is struck out, or the meal that it corrected stands again; its ledger
/// lines are reversed.
///
/// # Errors
/// A line whose spiderlings have gone on since.
pub async fn strike_out(write: &mut Write, signoff: SignoffId) -> Result<(), AppError> {
    for meal in touched_meals(write.db(), signoff).await? {
        if meal.root_signoff_id == Some(signoff) {
            correct(write, &meal, meal.told(), Some(signoff), true).await?;
        } else {
            restore(write, &meal).await?;
        }
    }
    let lines: Vec<(CohortId, LineId)> = sqlx::query_as(
        "SELECT cohort_id, id FROM ledger_line AS line
         WHERE signoff_id = ? AND kind <> 'reversal'
           AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = line.id)
         ORDER BY id DESC",
    )
    .bind(signoff)
    .fetch_all(write.db())
    .await?;
    for (cohort, line) in lines {
        reverse_because(write, cohort, line, "the sign-off was taken back").await?;
    }
    Ok(())
}

/// Standing meals that a sign-off entered or corrected, each with the sign-off of its first entry.
async fn touched_meals(db: &mut SqliteConnection, signoff: SignoffId) -> Result<Vec<MealRow>, AppError> {
    Ok(sqlx::query_as(
        "WITH RECURSIVE chain (tip, root) AS (
             SELECT id, id FROM cohort_meal WHERE corrects_id IS NULL
               AND cohort_id IN (SELECT cohort_id FROM cohort_meal WHERE signoff_id = ?1)
             UNION ALL
             SELECT later.id, chain.root FROM chain JOIN cohort_meal AS later ON later.corrects_id = chain.tip
         )
         SELECT meal.id, meal.cohort_id, meal.day, meal.offered_at, meal.prey, meal.took, meal.refused, meal.left_in,
                meal.prey_kind_id, meal.prey_each, meal.prey_spent,
                first.signoff_id AS root_signoff_id
         FROM cohort_meal_standing AS meal JOIN chain ON chain.tip = meal.id JOIN cohort_meal AS first ON first.id = chain.root
         WHERE first.signoff_id = ?1 OR meal.signoff_id = ?1",
    )
    .bind(signoff)
    .fetch_all(db)
    .await?)
}

/// Enters the first entry of a corrected meal again.
async fn restore(write: &mut Write, tip: &MealRow) -> Result<(), AppError> {
    let (took, refused, left_in, prey_spent, signoff): (u32, u32, u32, u32, Option<SignoffId>) = sqlx::query_as(
        "WITH RECURSIVE back (id, corrects_id) AS (
             SELECT id, corrects_id FROM cohort_meal WHERE id = ?
             UNION ALL
             SELECT earlier.id, earlier.corrects_id FROM back JOIN cohort_meal AS earlier ON earlier.id = back.corrects_id
         )
         SELECT took, refused, left_in, prey_spent, signoff_id FROM cohort_meal WHERE id = (SELECT id FROM back WHERE corrects_id IS NULL)",
    )
    .bind(tip.id)
    .fetch_one(write.db())
    .await?;
    correct(write, tip, Told { took, refused, left_in, prey_spent }, signoff, false).await
}

/// Moves a cohort to another place.
///
/// # Errors
/// A shelf that is not there, a day outside the cohort's life.
pub async fn record_move(write: &mut Write, cohort: CohortId, new: &NewCohortMove) -> Result<(), AppError> {
    check_day(write, cohort, new.day).await?;
    check_shelf(write.db(), new.shelf).await?;
    let before = super::require(write.db(), cohort).await?;
    let from = super::place_label(write.db(), before.shelf_id, before.position).await?;
    let to = super::place_label(write.db(), new.shelf, new.position).await?;
    let (who, at) = (write.who, write.at);
    sqlx::query("UPDATE cohort SET shelf_id = ?, position = ?, version = version + 1 WHERE id = ?")
        .bind(new.shelf)
        .bind(new.position)
        .bind(cohort)
        .execute(write.db())
        .await?;
    sqlx::query("INSERT INTO stock_move (cohort_id, day, from_label, to_label, signoff_id, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?)")
        .bind(cohort)
        .bind(new.day)
        .bind(from)
        .bind(to)
        .bind(new.signoff)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Keeps a new estimate of the leg span over a cohort, in mm: it sets the life stage that care and risk go by.
///
/// # Errors
/// The database can't be written.
pub async fn set_span(write: &mut Write, cohort: CohortId, span_mm: i64) -> Result<(), AppError> {
    sqlx::query("UPDATE cohort SET span_mm = ?, version = version + 1 WHERE id = ?").bind(span_mm).bind(cohort).execute(write.db()).await?;
    Ok(())
}

/// Puts a communal cohort into vials, one spiderling to each.
///
/// # Errors
/// A cohort in vials already, a day outside its life.
pub async fn separate(write: &mut Write, cohort: CohortId, day: NaiveDate) -> Result<(), AppError> {
    check_day(write, cohort, day).await?;
    let before = super::require(write.db(), cohort).await?;
    if before.housing == Housing::Vials {
        let since = text::day_or_dash(&before.separated_on);
        return Err(AppError::refused("day", format!("This cohort has stood in vials since {since}.")));
    }
    sqlx::query("UPDATE cohort SET housing = 'vials', separated_on = ?, version = version + 1 WHERE id = ?")
        .bind(day)
        .bind(cohort)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Refuses a shelf that is not there.
pub(in crate::cohorts) async fn check_shelf(db: &mut SqliteConnection, shelf: Option<ShelfId>) -> Result<(), AppError> {
    let Some(shelf) = shelf else { return Ok(()) };
    match rooms::store::shelf_label(db, shelf).await {
        Err(AppError::NotFound) => Err(AppError::refused("shelf", "This shelf is not in the book. Choose one of the list.")),
        answer => answer.map(|_| ()),
    }
}
