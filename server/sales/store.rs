//! All SQL of buyers and handovers: handovers here, the rest below.

pub mod arrivals;
mod buyers;
pub mod credits;
mod dealings;
pub mod erasure;
mod hand_over;
pub mod orders;
pub mod outings;
pub mod packing;
pub mod person;
pub mod pick;
pub mod prices;
mod readiness;
pub mod recall;
mod receipt;
pub mod reserved;
pub mod retention;
pub mod returns;
pub mod road;
mod sale_facts;
pub mod sale_lines;
pub mod stock;
pub mod terms;
mod to_handover;
pub mod who_has;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

pub use buyers::{
    PER_PAGE, any_unfolded, buyers, find, fold_missing, insert_buyer, page_of_buyers, require_buyer, set_language, update_buyer,
};
pub use dealings::{bought_by, orders_of, reserved_for, unfinished};
pub use hand_over::{Done, hand_over, highest_band, show_risk};
pub use readiness::{check, check_all, checked_lines};
pub use to_handover::{Taken, checked_order, to_handover};

use super::model::{Handover, HandoverState, Keeper, Line, Lot, Offer, Sale, Wanted};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, BuyerId, HandoverId, HandoverLineId, OutingId};
use crate::house::write::Write;

/// The handovers in one state, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn handovers(db: &mut SqliteConnection, state: HandoverState, most: i64) -> Result<Vec<Handover>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM handover_shown WHERE state = ? ORDER BY id DESC LIMIT ?").bind(state).bind(most).fetch_all(db).await?)
}

/// A buyer's handovers, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn handovers_of(db: &mut SqliteConnection, buyer: BuyerId) -> Result<Vec<Handover>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM handover_shown WHERE buyer_id = ? ORDER BY id DESC").bind(buyer).fetch_all(db).await?)
}

/// The handovers of an outing, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn handovers_of_outing(db: &mut SqliteConnection, outing: OutingId) -> Result<Vec<Handover>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM handover_shown WHERE outing_id = ? ORDER BY id DESC").bind(outing).fetch_all(db).await?)
}

/// One handover.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_handover(db: &mut SqliteConnection, id: HandoverId) -> Result<Handover, AppError> {
    Ok(sqlx::query_as("SELECT * FROM handover_shown WHERE id = ?").bind(id).fetch_one(db).await?)
}

/// A handover that can still be changed.
///
/// # Errors
/// [`AppError::NotFound`] when there is none; a conflict that says who ended it when it is done or cancelled.
pub async fn require_draft(db: &mut SqliteConnection, id: HandoverId) -> Result<Handover, AppError> {
    let handover = require_handover(db, id).await?;
    match handover.state {
        HandoverState::Draft => Ok(handover),
        HandoverState::Cancelled => Err(AppError::conflict("This handover was cancelled, so nothing on it can be changed.")),
        HandoverState::Done => {
            let who = handover.done_by_name.as_deref().unwrap_or("somebody");
            Err(AppError::conflict(format!("{who} has handed this over already. Nothing was done twice; its papers are on its page.")))
        }
    }
}

/// Begins a handover.
///
/// # Errors
/// A buyer who is not in the book; a change that nobody makes.
pub async fn insert_handover(write: &mut Write, buyer: BuyerId, note: &str) -> Result<HandoverId, AppError> {
    let (who, at) = (write.who, write.at);
    if require_buyer(write.db(), buyer).await?.is_erased() {
        return Err(AppError::refused("buyer", "This buyer was erased. Enter them as somebody new."));
    }
    Ok(sqlx::query_scalar("INSERT INTO handover (buyer_id, note, created_by, created_at) VALUES (?, ?, ?, ?) RETURNING id")
        .bind(buyer)
        .bind(note)
        .bind(who)
        .bind(at)
        .fetch_one(write.db())
        .await?)
}

/// What is on a handover, in the order it was added.
///
/// # Errors
/// The database can't be read.
pub async fn lines(db: &mut SqliteConnection, id: HandoverId) -> Result<Vec<Line>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.id, line.handover_id, line.animal_id, line.cohort_id, line.stage, line.quantity,
                COALESCE(animal.tag, cohort.code) AS label, species.id AS species_id, species.accepted_name AS species,
                paper.id AS paper_id
         FROM handover_line AS line
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         LEFT JOIN paper ON paper.handover_line_id = line.id AND paper.kind = 'care-sheet'
         WHERE line.handover_id = ? ORDER BY line.id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// Puts an animal on a handover.
///
/// # Errors
/// A handover that has ended; an animal that is on it already, is gone, or is reserved for others.
pub async fn add_animal_line(write: &mut Write, id: HandoverId, animal: AnimalId) -> Result<HandoverLineId, AppError> {
    sale_lines::add(write, Sale::Handover(id), Wanted::Animal(animal)).await?;
    Ok(sqlx::query_scalar("SELECT id FROM handover_line WHERE handover_id = ? AND animal_id = ?")
        .bind(id)
        .bind(animal)
        .fetch_one(write.db())
        .await?)
}

/// Puts a number out of a cohort on a handover; more of a stage that is on it already is added to its line.
///
/// # Errors
/// A handover that has ended; more than are free.
pub async fn add_lot_line(write: &mut Write, id: HandoverId, lot: Lot) -> Result<HandoverLineId, AppError> {
    let wanted = Wanted::Packs { cohort: lot.cohort, stage: lot.stage, packs: lot.quantity, pack_of: 1 };
    sale_lines::add(write, Sale::Handover(id), wanted).await?;
    Ok(sqlx::query_scalar("SELECT id FROM handover_line WHERE handover_id = ? AND cohort_id = ? AND stage = ?")
        .bind(id)
        .bind(lot.cohort)
        .bind(lot.stage)
        .fetch_one(write.db())
        .await?)
}

/// Takes a line off a handover.
///
/// # Errors
/// A handover that has ended; a line that is not on it (any more).
pub async fn remove_line(write: &mut Write, id: HandoverId, line: HandoverLineId) -> Result<(), AppError> {
    require_draft(write.db(), id).await?;
    let item = lines(write.db(), id).await?.into_iter().find(|known| known.id == line).and_then(|line| line.item());
    if let Some(item) = item {
        sale_lines::leave_handover(write, id, Some(item)).await?;
    }
    let removed = sqlx::query("DELETE FROM handover_line WHERE id = ? AND handover_id = ?").bind(line).bind(id).execute(write.db()).await?;
    if removed.rows_affected() == 0 {
        return Err(AppError::conflict("This line has been taken off already."));
    }
    touch(write, id).await
}

/// Gives a handover up before anything has left. What came from an order stays on it.
///
/// # Errors
/// A handover that has ended.
pub async fn cancel(write: &mut Write, id: HandoverId) -> Result<(), AppError> {
    require_draft(write.db(), id).await?;
    sale_lines::leave_handover(write, id, None).await?;
    sqlx::query("UPDATE handover SET state = 'cancelled', version = version + 1 WHERE id = ?").bind(id).execute(write.db()).await?;
    Ok(())
}

async fn touch(write: &mut Write, id: HandoverId) -> Result<(), AppError> {
    sqlx::query("UPDATE handover SET version = version + 1 WHERE id = ?").bind(id).execute(write.db()).await?;
    Ok(())
}

/// What cohorts have free on a day, by species and stage; what is kept for `but_for` is free for them.
///
/// # Errors
/// The database can't be read.
pub async fn offers(db: &mut SqliteConnection, day: NaiveDate, but_for: Keeper) -> Result<Vec<Offer>, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort_id, code, species, stage, MIN(quantity, MAX(alive - held - reserved, 0)) AS free
         FROM (SELECT cohort.id AS cohort_id, cohort.code, species.accepted_name AS species, bucket.code AS stage, bucket.ordinal,
                      balance.quantity,
                      SUM(balance.quantity) OVER (PARTITION BY cohort.id) AS alive,
                      (SELECT COALESCE(SUM(holdback.quantity), 0) FROM holdback WHERE holdback.cohort_id = cohort.id) AS held,
                      (SELECT COALESCE(SUM(reservation.quantity), 0) FROM reservation
                       WHERE reservation.cohort_id = cohort.id AND ended_as IS NULL AND until >= ?1
                         AND NOT (COALESCE(buyer_id = ?2, 0) OR COALESCE(order_id = ?3, 0) OR COALESCE(outing_id = ?4, 0))) AS reserved
               FROM ledger_balance AS balance
               JOIN bucket ON bucket.code = balance.bucket AND bucket.kind = 'stage'
               JOIN cohort ON cohort.id = balance.cohort_id JOIN species ON species.id = cohort.species_id
               WHERE balance.quantity > 0)
         ORDER BY species, code, ordinal",
    )
    .bind(day)
    .bind(but_for.buyer)
    .bind(but_for.order)
    .bind(but_for.outing)
    .fetch_all(db)
    .await?)
}
