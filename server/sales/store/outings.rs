//! Outings: planning them, what is packed and goes out, and how they are reconciled.

mod back;
mod packing;

use chrono::{Days, NaiveDate};
use sqlx::SqliteConnection;

pub use back::{Reconciled, reconcile};
pub use packing::{go, pack, stock, take, unpack};

use super::reserved;
use crate::house::errors::AppError;
use crate::house::ids::{BuyerId, HandoverId, OutingId};
use crate::house::write::Write;
use crate::sales::model::{Item, Keeper, NewOuting, Outing, OutingLine, OutingState, ReservationEnd};

/// How many days after its last day the stock of an outing is still kept for it, so that there is time to reconcile.
const DAYS_TO_RECONCILE: u64 = 14;

/// Every outing, those to come and out first, then the newest.
///
/// # Errors
/// The database can't be read.
pub async fn all(db: &mut SqliteConnection) -> Result<Vec<Outing>, AppError> {
    Ok(sqlx::query_as(
        "SELECT outing.id, outing.name, outing.day, outing.last_day, outing.state, outing.note, outing.out_at, taker.name AS out_by_name,
                outing.back_at, bringer.name AS back_by_name, outing.version
         FROM outing LEFT JOIN member AS taker ON taker.id = outing.out_by LEFT JOIN member AS bringer ON bringer.id = outing.back_by
         ORDER BY outing.state IN ('reconciled', 'cancelled'), outing.day DESC, outing.id DESC",
    )
    .fetch_all(db)
    .await?)
}

/// One outing.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: OutingId) -> Result<Outing, AppError> {
    Ok(sqlx::query_as(
        "SELECT outing.id, outing.name, outing.day, outing.last_day, outing.state, outing.note, outing.out_at, taker.name AS out_by_name,
                outing.back_at, bringer.name AS back_by_name, outing.version
         FROM outing LEFT JOIN member AS taker ON taker.id = outing.out_by LEFT JOIN member AS bringer ON bringer.id = outing.back_by
         WHERE outing.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// An outing in one state.
///
/// # Errors
/// [`AppError::NotFound`] when there is none; a conflict that says how it stands when that is another.
pub async fn require_in(db: &mut SqliteConnection, id: OutingId, state: OutingState) -> Result<Outing, AppError> {
    let outing = require(db, id).await?;
    if outing.state == state {
        return Ok(outing);
    }
    Err(AppError::conflict(match outing.state {
        OutingState::Packing => "This outing has not gone out yet. Pack it first.",
        OutingState::Out => "This outing is out already. What it took along stands.",
        OutingState::Reconciled => "This outing is back and reconciled, so nothing of it is changed any more.",
        OutingState::Cancelled => "This outing was cancelled, so nothing of it is changed any more.",
    }))
}

/// Plans an outing.
///
/// # Errors
/// The database can't be written.
pub async fn plan(write: &mut Write, new: &NewOuting) -> Result<OutingId, AppError> {
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar("INSERT INTO outing (name, day, last_day, note, created_by, created_at) VALUES (?, ?, ?, ?, ?, ?) RETURNING id")
        .bind(&new.name)
        .bind(new.day)
        .bind(new.last_day)
        .bind(&new.note)
        .bind(who)
        .bind(at)
        .fetch_one(write.db())
        .await?)
}

/// Gives an outing up before it went out, and frees what was kept for it.
///
/// # Errors
/// A conflict when it has gone out or ended.
pub async fn cancel(write: &mut Write, id: OutingId) -> Result<(), AppError> {
    require_in(write.db(), id, OutingState::Packing).await?;
    reserved::end_of_outing(write, id, ReservationEnd::Released).await?;
    sqlx::query("UPDATE outing SET state = 'cancelled', version = version + 1 WHERE id = ?").bind(id).execute(write.db()).await?;
    Ok(())
}

async fn touch(write: &mut Write, id: OutingId) -> Result<(), AppError> {
    sqlx::query("UPDATE outing SET version = version + 1 WHERE id = ?").bind(id).execute(write.db()).await?;
    Ok(())
}

/// Up to which day stock is kept for an outing: some days more, so that there is time to reconcile.
fn kept_until(outing: &Outing, today: NaiveDate) -> NaiveDate {
    let last = outing.last().max(today);
    last.checked_add_days(Days::new(DAYS_TO_RECONCILE)).unwrap_or(last)
}

fn keeper(id: OutingId) -> Keeper {
    Keeper { outing: Some(id), ..Keeper::default() }
}

/// What an outing took along, with what was sold of it and what became of the rest.
///
/// # Errors
/// The database can't be read.
pub async fn lines(db: &mut SqliteConnection, id: OutingId) -> Result<Vec<OutingLine>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.id, line.animal_id, line.cohort_id, line.stage, COALESCE(animal.tag, cohort.code) AS label,
                species.accepted_name AS species, line.quantity, sold.sold, back.returned, back.dead, back.missing,
                back.cohort_id AS back_cohort_id, home.code AS back_code
         FROM outing_line AS line
         JOIN outing_line_sold AS sold ON sold.outing_line_id = line.id
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         LEFT JOIN outing_back AS back ON back.outing_line_id = line.id
         LEFT JOIN cohort AS home ON home.id = back.cohort_id
         WHERE line.outing_id = ? ORDER BY line.animal_id IS NULL DESC, species, label, line.id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// Begins a handover at the stall: only what the outing took along goes on it.
///
/// # Errors
/// A conflict when the outing is not out; a buyer who is not in the book.
pub async fn begin_sale(write: &mut Write, id: OutingId, buyer: BuyerId, note: &str) -> Result<HandoverId, AppError> {
    require_in(write.db(), id, OutingState::Out).await?;
    let handover = super::insert_handover(write, buyer, note).await?;
    sqlx::query("UPDATE handover SET way = 'outing', outing_id = ? WHERE id = ?").bind(id).bind(handover).execute(write.db()).await?;
    Ok(handover)
}

/// What is left to sell of an item on a handover's outing; nothing when the handover is not made at a stall.
///
/// # Errors
/// The database can't be read.
pub async fn left_for(db: &mut SqliteConnection, handover: HandoverId, item: Item) -> Result<Option<u32>, AppError> {
    Ok(left_at_stall(db, handover).await?.map(|lines| left_of(&lines, item)))
}

/// The lines of a handover's outing; nothing when the handover is not made at a stall: it is of no outing, or fulfils an order.
///
/// # Errors
/// The database can't be read.
pub async fn left_at_stall(db: &mut SqliteConnection, handover: HandoverId) -> Result<Option<Vec<OutingLine>>, AppError> {
    let handover = super::require_handover(db, handover).await?;
    match (handover.outing_id, handover.order_id) {
        (Some(outing), None) => Ok(Some(lines(db, outing).await?)),
        _ => Ok(None),
    }
}

/// How many of an item the lines have left.
#[must_use]
pub fn left_of(lines: &[OutingLine], item: Item) -> u32 {
    let same = |line: &&OutingLine| match item {
        Item::Animal(animal) => line.animal_id == Some(animal),
        Item::Lot(lot) => line.cohort_id == Some(lot.cohort) && line.stage == Some(lot.stage),
    };
    lines.iter().find(same).map_or(0, OutingLine::left)
}
