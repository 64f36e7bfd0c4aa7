//! Reservations: what is kept for somebody, so that nobody else takes it. The database refuses a sale that would.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, HandoverId, OrderId, OutingId, ReservationId};
use crate::house::write::Write;
use crate::sales::model::{Item, Keeper, NewReservation, Reservation, ReservationEnd};

/// Keeps something for somebody. What has lapsed is ended first, so that it is in nobody's way.
///
/// # Errors
/// A last day that is past; an animal that is gone or kept for somebody; more than are free: each says what to change.
pub async fn reserve(write: &mut Write, new: &NewReservation) -> Result<ReservationId, AppError> {
    if new.until < write.today {
        return Err(AppError::refused("until", format!("This day is past; enter {} or a later one.", write.today)));
    }
    lapse(write).await?;
    let (animal, cohort, stage, quantity) = match new.item {
        Item::Animal(animal) => {
            check_animal(write, animal).await?;
            (Some(animal), None, None, 1)
        }
        Item::Lot(lot) => {
            check_lot(write, lot.cohort, lot.quantity).await?;
            (None, Some(lot.cohort), Some(lot.stage), lot.quantity)
        }
    };
    let (who, at, today) = (write.who, write.at, write.today);
    Ok(sqlx::query_scalar(
        "INSERT INTO reservation (animal_id, cohort_id, stage, quantity, buyer_id, order_id, outing_id, until, note, made_on, made_by, made_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(animal)
    .bind(cohort)
    .bind(stage)
    .bind(quantity)
    .bind(new.keeper.buyer)
    .bind(new.keeper.order)
    .bind(new.keeper.outing)
    .bind(new.until)
    .bind(&new.note)
    .bind(today)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

async fn check_animal(write: &mut Write, animal: AnimalId) -> Result<(), AppError> {
    let (today, animal_now) = (write.today, crate::animals::store::require(write.db(), animal).await?);
    if !animal_now.is_alive() {
        return Err(AppError::refused("item", format!("Tag {} is not in the house: it is {}.", animal_now.tag, animal_now.status)));
    }
    if let Some(until) = kept_until(write.db(), animal, today, Keeper::default()).await? {
        return Err(AppError::refused("item", format!("Tag {} is reserved until {until}. Release that first.", animal_now.tag)));
    }
    Ok(())
}

async fn check_lot(write: &mut Write, cohort: CohortId, quantity: u32) -> Result<(), AppError> {
    let today = write.today;
    let alive = crate::cohorts::store::alive(write.db(), cohort).await?;
    let held = crate::cohorts::store::held_back(write.db(), cohort).await?;
    let free = (alive - held - reserved_of(write.db(), cohort, today, Keeper::default()).await?).max(0);
    if i64::from(quantity) > free {
        return Err(AppError::refused("quantity", format!("Only {free} are free: the others are reserved or held back. Enter fewer.")));
    }
    Ok(())
}

/// Ends every reservation whose last day is past; gives how many there were.
///
/// # Errors
/// The database can't be written.
pub async fn lapse(write: &mut Write) -> Result<u64, AppError> {
    let (at, today) = (write.at, write.today);
    let lapsed = sqlx::query("UPDATE reservation SET ended_as = 'lapsed', ended_at = ? WHERE ended_as IS NULL AND until < ?")
        .bind(at)
        .bind(today)
        .execute(write.db())
        .await?;
    Ok(lapsed.rows_affected())
}

/// Releases a reservation that stands.
///
/// # Errors
/// A conflict when it has ended already.
pub async fn release(write: &mut Write, id: ReservationId) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let released =
        sqlx::query("UPDATE reservation SET ended_as = 'released', ended_at = ?, ended_by = ? WHERE id = ? AND ended_as IS NULL")
            .bind(at)
            .bind(who)
            .bind(id)
            .execute(write.db())
            .await?;
    if released.rows_affected() == 0 {
        return Err(AppError::conflict("This reservation has ended already."));
    }
    Ok(())
}

/// Ends what stands for an order, in one of the ways.
///
/// # Errors
/// The database can't be written.
pub async fn end_of_order(write: &mut Write, order: OrderId, end: ReservationEnd) -> Result<u64, AppError> {
    let (who, at) = (write.who, write.at);
    let ended = sqlx::query("UPDATE reservation SET ended_as = ?, ended_at = ?, ended_by = ? WHERE order_id = ? AND ended_as IS NULL")
        .bind(end)
        .bind(at)
        .bind(who)
        .bind(order)
        .execute(write.db())
        .await?;
    Ok(ended.rows_affected())
}

/// Ends what stands for an outing, in one of the ways.
///
/// # Errors
/// The database can't be written.
pub async fn end_of_outing(write: &mut Write, outing: OutingId, end: ReservationEnd) -> Result<u64, AppError> {
    let (who, at) = (write.who, write.at);
    let ended = sqlx::query("UPDATE reservation SET ended_as = ?, ended_at = ?, ended_by = ? WHERE outing_id = ? AND ended_as IS NULL")
        .bind(end)
        .bind(at)
        .bind(who)
        .bind(outing)
        .execute(write.db())
        .await?;
    Ok(ended.rows_affected())
}

/// For whom a handover takes stock: its buyer, its order, its outing.
///
/// # Errors
/// The database can't be read.
pub async fn keeper_of(db: &mut SqliteConnection, id: HandoverId) -> Result<Keeper, AppError> {
    let handover = super::require_handover(db, id).await?;
    Ok(Keeper { buyer: Some(handover.buyer_id), order: handover.order_id, outing: handover.outing_id })
}

/// The last day on which an animal is kept for somebody else than `but_for`; nothing when it is free.
///
/// # Errors
/// The database can't be read.
pub async fn kept_until(
    db: &mut SqliteConnection,
    animal: AnimalId,
    day: NaiveDate,
    but_for: Keeper,
) -> Result<Option<NaiveDate>, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT until FROM reservation
         WHERE animal_id = ? AND ended_as IS NULL AND until >= ?
           AND NOT (COALESCE(buyer_id = ?, 0) OR COALESCE(order_id = ?, 0) OR COALESCE(outing_id = ?, 0))",
    )
    .bind(animal)
    .bind(day)
    .bind(but_for.buyer)
    .bind(but_for.order)
    .bind(but_for.outing)
    .fetch_optional(db)
    .await?)
}

/// How many of a cohort are kept on a day for others than `but_for`.
///
/// # Errors
/// The database can't be read.
pub async fn reserved_of(db: &mut SqliteConnection, cohort: CohortId, day: NaiveDate, but_for: Keeper) -> Result<i64, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT COALESCE(SUM(quantity), 0) FROM reservation
         WHERE cohort_id = ? AND ended_as IS NULL AND until >= ?
           AND NOT (COALESCE(buyer_id = ?, 0) OR COALESCE(order_id = ?, 0) OR COALESCE(outing_id = ?, 0))",
    )
    .bind(cohort)
    .bind(day)
    .bind(but_for.buyer)
    .bind(but_for.order)
    .bind(but_for.outing)
    .fetch_one(db)
    .await?)
}

/// Uses up what stands today for a handover's keeper of an item, before the stock leaves. Of a reservation that is larger than what
/// leaves, the rest is kept on as a reservation of its own.
///
/// # Errors
/// The database can't be written.
pub async fn use_up(write: &mut Write, keeper: Keeper, item: Item) -> Result<(), AppError> {
    let today = write.today;
    let (animal, cohort, mut leaving) = match item {
        Item::Animal(animal) => (Some(animal), None, 1),
        Item::Lot(lot) => (None, Some(lot.cohort), lot.quantity),
    };
    let standing: Vec<Reservation> = sqlx::query_as(
        "SELECT * FROM reservation_shown
         WHERE (animal_id = ?1 OR cohort_id = ?2) AND ended_as IS NULL AND until >= ?6
           AND (COALESCE(order_id = ?4, 0) OR COALESCE(outing_id = ?5, 0) OR COALESCE(buyer_id = ?3, 0))
         ORDER BY COALESCE(order_id = ?4, 0) DESC, COALESCE(outing_id = ?5, 0) DESC, id",
    )
    .bind(animal)
    .bind(cohort)
    .bind(keeper.buyer)
    .bind(keeper.order)
    .bind(keeper.outing)
    .bind(today)
    .fetch_all(write.db())
    .await?;
    for reservation in &standing {
        if leaving == 0 {
            break;
        }
        end_used(write, reservation.id).await?;
        let rest = reservation.quantity.saturating_sub(leaving);
        leaving = leaving.saturating_sub(reservation.quantity);
        if rest > 0 {
            keep_on(write, reservation, rest).await?;
        }
    }
    Ok(())
}

async fn end_used(write: &mut Write, id: ReservationId) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query("UPDATE reservation SET ended_as = 'used', ended_at = ?, ended_by = ? WHERE id = ?")
        .bind(at)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    Ok(())
}

async fn keep_on(write: &mut Write, of: &Reservation, rest: u32) -> Result<(), AppError> {
    let (who, at, today) = (write.who, write.at, write.today);
    sqlx::query(
        "INSERT INTO reservation (cohort_id, stage, quantity, buyer_id, order_id, outing_id, until, note, made_on, made_by, made_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(of.cohort_id)
    .bind(of.stage)
    .bind(rest)
    .bind(of.buyer_id)
    .bind(of.order_id)
    .bind(of.outing_id)
    .bind(of.until)
    .bind(&of.note)
    .bind(today)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}

/// What stands on a day, by its last day.
///
/// # Errors
/// The database can't be read.
pub async fn standing(db: &mut SqliteConnection, day: NaiveDate) -> Result<Vec<Reservation>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM reservation_shown WHERE ended_as IS NULL AND until >= ? ORDER BY until, id")
        .bind(day)
        .fetch_all(db)
        .await?)
}

/// Every reservation of an order, in the order they were made.
///
/// # Errors
/// The database can't be read.
pub async fn of_order(db: &mut SqliteConnection, order: OrderId) -> Result<Vec<Reservation>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM reservation_shown WHERE order_id = ? ORDER BY id").bind(order).fetch_all(db).await?)
}

/// Every reservation of an outing, in the order they were made.
///
/// # Errors
/// The database can't be read.
pub async fn of_outing(db: &mut SqliteConnection, outing: OutingId) -> Result<Vec<Reservation>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM reservation_shown WHERE outing_id = ? ORDER BY id").bind(outing).fetch_all(db).await?)
}
