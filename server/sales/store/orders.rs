//! Orders: what somebody wants, kept for them until a day.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::sale_facts::{self, Book};
use super::sale_lines::{pieces_of, sale_lines};
use super::{require_buyer, reserved, who_has};
use crate::house::errors::AppError;
use crate::house::ids::{BuyerId, HandoverId, OrderId, ReservationId};
use crate::house::text;
use crate::house::write::Write;
use crate::sales::model::{Item, Keeper, Lot, NewOrder, NewReservation, Order, OrderState, ReservationEnd, Sale};

/// The orders in one state, the soonest wanted first.
///
/// # Errors
/// The database can't be read.
pub async fn orders(db: &mut SqliteConnection, state: OrderState, most: i64) -> Result<Vec<Order>, AppError> {
    Ok(sqlx::query_as(
        "SELECT sale_order.*, buyer.name AS buyer_name, member.name AS created_by_name,
                (SELECT COALESCE(SUM(packs * pack_of), 0) FROM sale_line WHERE sale_line.order_id = sale_order.id) AS pieces
         FROM sale_order JOIN buyer ON buyer.id = sale_order.buyer_id JOIN member ON member.id = sale_order.created_by
         WHERE sale_order.state = ? ORDER BY wanted_on IS NULL, wanted_on, sale_order.id DESC LIMIT ?",
    )
    .bind(state)
    .bind(most)
    .fetch_all(db)
    .await?)
}

/// One order.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_order(db: &mut SqliteConnection, id: OrderId) -> Result<Order, AppError> {
    Ok(sqlx::query_as(
        "SELECT sale_order.*, buyer.name AS buyer_name, member.name AS created_by_name,
                (SELECT COALESCE(SUM(packs * pack_of), 0) FROM sale_line WHERE sale_line.order_id = sale_order.id) AS pieces
         FROM sale_order JOIN buyer ON buyer.id = sale_order.buyer_id JOIN member ON member.id = sale_order.created_by
         WHERE sale_order.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// An order that can still be changed.
///
/// # Errors
/// [`AppError::NotFound`] when there is none; a conflict when it has ended.
pub async fn require_open(db: &mut SqliteConnection, id: OrderId) -> Result<Order, AppError> {
    let order = require_order(db, id).await?;
    match order.state {
        OrderState::Open => Ok(order),
        OrderState::HandedOver => Err(AppError::conflict("This order has been handed over, so nothing on it can be changed.")),
        OrderState::Cancelled => Err(AppError::conflict("This order was cancelled, so nothing on it can be changed.")),
    }
}

/// The handovers that were made from an order.
///
/// # Errors
/// The database can't be read.
pub async fn handovers_of_order(db: &mut SqliteConnection, id: OrderId) -> Result<Vec<crate::sales::model::Handover>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM handover_shown WHERE order_id = ? ORDER BY id").bind(id).fetch_all(db).await?)
}

/// Makes an order for a buyer.
///
/// # Errors
/// A buyer who is not in the book; an end day that is past.
pub async fn insert_order(write: &mut Write, buyer: BuyerId, new: &NewOrder) -> Result<OrderId, AppError> {
    require_buyer(write.db(), buyer).await?;
    not_past(write, new.reserve_until)?;
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar(
        "INSERT INTO sale_order (buyer_id, way, wanted_on, reserve_until, note, created_by, created_at) VALUES (?, ?, ?, ?, ?, ?, ?)
         RETURNING id",
    )
    .bind(buyer)
    .bind(new.way)
    .bind(new.wanted_on)
    .bind(new.reserve_until)
    .bind(&new.note)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

fn not_past(write: &Write, until: NaiveDate) -> Result<(), AppError> {
    if until < write.today {
        return Err(AppError::refused("until", format!("This day is past; enter {} or a later one.", write.today)));
    }
    Ok(())
}

/// Changes what is known of an order; its stock is kept until the new day, and kept anew if that had lapsed.
///
/// # Errors
/// An order that has ended or was changed meanwhile; stock that somebody else has by now.
pub async fn update_order(write: &mut Write, id: OrderId, version: i64, new: &NewOrder) -> Result<(), AppError> {
    require_open(write.db(), id).await?;
    not_past(write, new.reserve_until)?;
    let changed = sqlx::query(
        "UPDATE sale_order SET way = ?, wanted_on = ?, reserve_until = ?, note = ?, version = version + 1 WHERE id = ? AND version = ?",
    )
    .bind(new.way)
    .bind(new.wanted_on)
    .bind(new.reserve_until)
    .bind(&new.note)
    .bind(id)
    .bind(version)
    .execute(write.db())
    .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("Somebody changed this order since you opened the page. Look at it again first."));
    }
    keep_all(write, id).await
}

/// Keeps everything of an order until its day.
///
/// # Errors
/// Stock that somebody else has by now.
pub async fn keep_all(write: &mut Write, id: OrderId) -> Result<(), AppError> {
    let mut items: Vec<Item> = Vec::new();
    for line in sale_lines(write.db(), Sale::Order(id)).await?.iter().filter(|line| !line.is_done) {
        let Some(item) = line.item() else { continue };
        if !items.iter().any(|known| same_stock(*known, item)) {
            items.push(item);
        }
    }
    for item in items {
        keep(write, id, item).await?;
    }
    Ok(())
}

/// Whether two lines take from the same stock.
#[must_use]
pub(super) fn same_stock(one: Item, other: Item) -> bool {
    match (one, other) {
        (Item::Animal(one), Item::Animal(other)) => one == other,
        (Item::Lot(one), Item::Lot(other)) => one.cohort == other.cohort && one.stage == other.stage,
        _ => false,
    }
}

/// Keeps for an order as many of an item as its lines ask for: what was kept before ends, and what they ask for now is kept.
/// What the buyer had reserved for themselves is taken over first.
///
/// # Errors
/// More than are free at that stage, or an animal that is gone or reserved: who has it.
pub(super) async fn keep(write: &mut Write, id: OrderId, item: Item) -> Result<(), AppError> {
    let order = require_open(write.db(), id).await?;
    let until = order.reserve_until.filter(|until| *until >= write.today).ok_or_else(|| {
        AppError::refused(
            "",
            "The day until which this order keeps its stock is past. Choose a later one first, under “Change this order”.",
        )
    })?;
    reserved::lapse(write).await?;
    let wanted = pieces_of(write.db(), Sale::Order(id), item).await?;
    let mut kept = 0;
    for reservation in standing_of(write, id, item).await? {
        kept += reservation.1;
        reserved::release(write, reservation.0).await?;
    }
    if wanted == 0 {
        return Ok(());
    }
    let keeper = Keeper { buyer: Some(order.buyer_id), order: Some(id), outing: None };
    is_free(write, item, wanted, keeper).await?;
    let more = wanted.saturating_sub(kept);
    if more > 0 {
        let own = Keeper { buyer: Some(order.buyer_id), ..Keeper::default() };
        reserved::use_up(write, own, sized(item, more)).await?;
    }
    let keeper = Keeper { order: Some(id), ..Keeper::default() };
    let new = NewReservation { item: sized(item, wanted), keeper, until, note: String::new() };
    match reserved::reserve(write, &new).await {
        Err(AppError::Refused(mistakes)) => {
            let why = mistakes.all().map(|mistake| mistake.message.clone()).collect::<Vec<_>>().join(" ");
            let today = write.today;
            let who = who_has::told(write.db(), item, today, Keeper::default()).await?;
            Err(AppError::refused(field_of(item), format!("{why}{who}")))
        }
        answer => answer.map(drop),
    }
}

/// The item in another number.
pub(super) fn sized(item: Item, quantity: u32) -> Item {
    match item {
        Item::Lot(lot) => Item::Lot(Lot { quantity, ..lot }),
        animal @ Item::Animal(_) => animal,
    }
}

/// The field at which a form says what is wrong with an item.
pub(super) fn field_of(item: Item) -> &'static str {
    match item {
        Item::Animal(_) => "tag",
        Item::Lot(_) => "quantity",
    }
}

/// Refuses more than are free for somebody, and says who has the others.
pub(super) async fn is_free(write: &mut Write, item: Item, wanted: u32, keeper: Keeper) -> Result<(), AppError> {
    let (at, zone, today) = (write.at, write.zone, write.today);
    let book = Book::read(write.db(), at, zone).await?;
    let (free, label, why) = match item {
        Item::Animal(animal) => {
            let subject = sale_facts::animals(write.db(), Some(animal), &book).await?.pop().ok_or(AppError::NotFound)?;
            let gone = subject.facts.not_available;
            let kept = who_has::kept_for_others(write.db(), item, today, keeper).await?;
            if let (None, Some(kept)) = (&gone, kept.first()) {
                return Err(AppError::refused("tag", format!("Tag {} is reserved for somebody else {kept}.", subject.label)));
            }
            let why = gone.as_ref().map_or_else(String::new, |gone| format!("Tag {} is not in the house: {gone}.", subject.label));
            (u32::from(gone.is_none()), subject.label, why)
        }
        Item::Lot(lot) => {
            let subject =
                sale_facts::lots(write.db(), Some((lot.cohort, lot.stage)), keeper, &book).await?.pop().ok_or(AppError::NotFound)?;
            let free = subject.facts.lot.map_or(0, |lot| lot.free);
            let why = format!("Only {free} are free of cohort {} at {}: you asked for {wanted}. Enter fewer.", subject.label, lot.stage);
            (free, subject.label, why)
        }
    };
    if free >= wanted {
        return Ok(());
    }
    tracing::info!(label, wanted, free, "asked for more than are free");
    let who = who_has::told(write.db(), item, today, keeper).await?;
    Err(AppError::refused(field_of(item), format!("{why}{who}")))
}

async fn standing_of(write: &mut Write, id: OrderId, item: Item) -> Result<Vec<(ReservationId, u32)>, AppError> {
    let (animal, cohort, stage) = match item {
        Item::Animal(animal) => (Some(animal), None, None),
        Item::Lot(lot) => (None, Some(lot.cohort), Some(lot.stage)),
    };
    Ok(sqlx::query_as(
        "SELECT id, quantity FROM reservation
         WHERE order_id = ? AND ended_as IS NULL AND animal_id IS ? AND cohort_id IS ? AND stage IS ?",
    )
    .bind(id)
    .bind(animal)
    .bind(cohort)
    .bind(stage)
    .fetch_all(write.db())
    .await?)
}

/// Gives an order up; what it kept is free again. Gives how many reservations ended.
///
/// # Errors
/// An order that has ended, or of which something is on a handover that is being made ready.
pub async fn cancel_order(write: &mut Write, id: OrderId) -> Result<u64, AppError> {
    require_open(write.db(), id).await?;
    let lines = sale_lines(write.db(), Sale::Order(id)).await?;
    if let Some(handover) = lines.iter().filter(|line| !line.is_done).find_map(|line| line.handover_id) {
        return Err(AppError::conflict(format!("Handover {handover} is being made ready from this order. Cancel that first.")));
    }
    if lines.iter().any(|line| line.is_done) {
        return close_rest(write, id).await;
    }
    let released = reserved::end_of_order(write, id, ReservationEnd::Released).await?;
    end(write, id, OrderState::Cancelled).await?;
    Ok(released)
}

/// What has not been handed over of an order goes; the order is done with what has.
async fn close_rest(write: &mut Write, id: OrderId) -> Result<u64, AppError> {
    sqlx::query("DELETE FROM sale_line WHERE order_id = ? AND handover_id IS NULL").bind(id).execute(write.db()).await?;
    let released = reserved::end_of_order(write, id, ReservationEnd::Released).await?;
    end(write, id, OrderState::HandedOver).await?;
    Ok(released)
}

/// Ends an order when the last of it has been handed over; called in the handover's own transaction.
///
/// # Errors
/// The database can't be written.
pub(super) async fn settle(write: &mut Write, id: OrderId) -> Result<(), AppError> {
    let order = require_order(write.db(), id).await?;
    let lines = sale_lines(write.db(), Sale::Order(id)).await?;
    if order.state != OrderState::Open || lines.is_empty() || lines.iter().any(|line| !line.is_done) {
        return Ok(());
    }
    reserved::end_of_order(write, id, ReservationEnd::Released).await?;
    end(write, id, OrderState::HandedOver).await
}

async fn end(write: &mut Write, id: OrderId, state: OrderState) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query("UPDATE sale_order SET state = ?, ended_at = ?, ended_by = ?, version = version + 1 WHERE id = ?")
        .bind(state)
        .bind(at)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Counts a change of an order's lines.
pub(super) async fn touch_order(write: &mut Write, id: OrderId) -> Result<(), AppError> {
    sqlx::query("UPDATE sale_order SET version = version + 1 WHERE id = ?").bind(id).execute(write.db()).await?;
    Ok(())
}

/// In words, what an order keeps its stock until: `kept until 20 Apr 2026`, or that it is kept no more.
#[must_use]
pub fn kept_words(order: &Order, today: NaiveDate) -> String {
    match order.reserve_until {
        Some(until) if until >= today => format!("kept until {}", text::day(&until)),
        Some(until) => format!("kept no more: the day was {}", text::day(&until)),
        None => "not kept".to_owned(),
    }
}

/// Makes a handover for an order's buyer, with the order behind it.
pub(super) async fn begin_handover(write: &mut Write, order: &Order) -> Result<HandoverId, AppError> {
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar(
        "INSERT INTO handover (buyer_id, way, order_id, note, created_by, created_at) VALUES (?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(order.buyer_id)
    .bind(order.way)
    .bind(order.id)
    .bind(&order.note)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}
