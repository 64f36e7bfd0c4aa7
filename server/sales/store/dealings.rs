//! What the house had to do with a buyer.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::BuyerId;
use crate::sales::model::{Bought, OrderLine, Reservation, Unfinished};

/// Everything that a buyer was handed over, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn bought_by(db: &mut SqliteConnection, buyer: BuyerId) -> Result<Vec<Bought>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.handover_id, handover.day, line.animal_id, line.cohort_id, line.stage, line.quantity,
                COALESCE(animal.tag, cohort.code) AS label, species.accepted_name AS species, paper.id AS paper_id, paper.number AS paper,
                (SELECT COALESCE(SUM(back.quantity), 0) FROM sale_return AS back WHERE back.handover_line_id = line.id) AS came_back
         FROM handover JOIN handover_line AS line ON line.handover_id = handover.id
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         LEFT JOIN paper ON paper.handover_line_id = line.id AND paper.kind = 'care-sheet'
         WHERE handover.buyer_id = ? AND handover.state = 'done' ORDER BY handover.day DESC, line.id",
    )
    .bind(buyer)
    .fetch_all(db)
    .await?)
}

/// A buyer's orders, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn orders_of(db: &mut SqliteConnection, buyer: BuyerId) -> Result<Vec<OrderLine>, AppError> {
    Ok(sqlx::query_as("SELECT id, state, created_at, wanted_on FROM sale_order WHERE buyer_id = ? ORDER BY id DESC")
        .bind(buyer)
        .fetch_all(db)
        .await?)
}

/// What was ever reserved for a buyer, by name or for one of their orders, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn reserved_for(db: &mut SqliteConnection, buyer: BuyerId) -> Result<Vec<Reservation>, AppError> {
    Ok(sqlx::query_as(
        "SELECT * FROM reservation_shown
         WHERE buyer_id = ?1 OR order_id IN (SELECT id FROM sale_order WHERE buyer_id = ?1) ORDER BY id DESC",
    )
    .bind(buyer)
    .fetch_all(db)
    .await?)
}

/// What stands against erasing a buyer on a day.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such buyer.
pub async fn unfinished(db: &mut SqliteConnection, buyer: BuyerId, day: NaiveDate) -> Result<Unfinished, AppError> {
    let held_until = super::require_buyer(db, buyer).await?.held_on(day);
    let orders = sqlx::query_scalar("SELECT id FROM sale_order WHERE buyer_id = ? AND state = 'open' ORDER BY id");
    let orders = orders.bind(buyer).fetch_all(&mut *db).await?;
    let drafts = sqlx::query_scalar("SELECT id FROM handover WHERE buyer_id = ? AND state = 'draft' ORDER BY id");
    let drafts = drafts.bind(buyer).fetch_all(db).await?;
    Ok(Unfinished { orders, drafts, held_until })
}
