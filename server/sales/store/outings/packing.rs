//! What an outing is to take along, what is in its boxes, and the take-out count as it goes.

use sqlx::SqliteConnection;

use super::{keeper, kept_until, require_in, touch};
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::OutingId;
use crate::house::write::Write;
use crate::sales::model::{Item, Lot, NewReservation, OutingItem, OutingState, ReservationEnd};
use crate::sales::store::reserved;
use crate::{animals, cohorts};

/// What is reserved for an outing that is being packed, and what is in its boxes, in walking order.
///
/// # Errors
/// The database can't be read.
pub async fn stock(db: &mut SqliteConnection, id: OutingId) -> Result<Vec<OutingItem>, AppError> {
    let mut items: Vec<OutingItem> = sqlx::query_as(
        "WITH packed AS (
             SELECT animal_id, cohort_id, stage, quantity FROM outing_packed AS one
             WHERE one.outing_id = ?1 AND NOT EXISTS (
                 SELECT 1 FROM outing_packed AS later
                 WHERE later.outing_id = ?1 AND later.id > one.id AND later.animal_id IS one.animal_id
                   AND later.cohort_id IS one.cohort_id AND later.stage IS one.stage)),
         kept AS (
             SELECT animal_id, cohort_id, stage, SUM(quantity) AS quantity FROM reservation
             WHERE outing_id = ?1 AND ended_as IS NULL GROUP BY animal_id, cohort_id, stage),
         item AS (
             SELECT animal_id, cohort_id, stage FROM kept
             UNION SELECT animal_id, cohort_id, stage FROM packed WHERE quantity > 0)
         SELECT item.animal_id, item.cohort_id, item.stage, COALESCE(animal.tag, cohort.code) AS label,
                species.accepted_name AS species, place.label AS place, COALESCE(kept.quantity, 0) AS reserved,
                COALESCE(packed.quantity, 0) AS packed
         FROM item
         LEFT JOIN kept ON kept.animal_id IS item.animal_id AND kept.cohort_id IS item.cohort_id AND kept.stage IS item.stage
         LEFT JOIN packed ON packed.animal_id IS item.animal_id AND packed.cohort_id IS item.cohort_id AND packed.stage IS item.stage
         LEFT JOIN animal ON animal.id = item.animal_id LEFT JOIN cohort ON cohort.id = item.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         LEFT JOIN place ON place.shelf_id = COALESCE(animal.shelf_id, cohort.shelf_id)
         ORDER BY place.room_order IS NULL, place.room_order, place.room_name, place.rack_order, place.rack_name, place.shelf_order,
                  place.shelf_number, COALESCE(animal.position, cohort.position), species, label",
    )
    .bind(id)
    .fetch_all(&mut *db)
    .await?;
    for item in &mut items {
        let hazard = match item.item(1) {
            Some(Item::Animal(animal)) => animals::store::hazard(&mut *db, animal).await?.1,
            Some(Item::Lot(lot)) => cohorts::store::hazard(&mut *db, lot.cohort).await?.1,
            None => continue,
        };
        item.band = i64::from(hazard.band.level());
    }
    Ok(items)
}

/// Chooses stock to take along: it is kept for the outing from now on.
///
/// # Errors
/// An outing that is not being packed; what is gone, kept for somebody else, or more than is free.
pub async fn take(write: &mut Write, id: OutingId, item: Item) -> Result<(), AppError> {
    let outing = require_in(write.db(), id, OutingState::Packing).await?;
    let until = kept_until(&outing, write.today);
    reserved::reserve(write, &NewReservation { item, keeper: keeper(id), until, note: outing.name }).await?;
    touch(write, id).await
}

/// Notes what is in the boxes now: an animal, or so many of a lot. What was not chosen before is chosen by it.
///
/// # Errors
/// As [`take`].
pub async fn pack(write: &mut Write, id: OutingId, item: Item) -> Result<(), AppError> {
    require_in(write.db(), id, OutingState::Packing).await?;
    let (wanted, kept) = (quantity(item), of(&stock(write.db(), id).await?, item));
    let more = wanted.saturating_sub(kept);
    if more > 0 {
        let missing = match item {
            Item::Animal(animal) => Item::Animal(animal),
            Item::Lot(lot) => Item::Lot(Lot { quantity: more, ..lot }),
        };
        take(write, id, missing).await?;
    }
    note_packed(write, id, item, wanted).await
}

/// Takes an item out of the boxes again, and gives it free.
///
/// # Errors
/// An outing that is not being packed.
pub async fn unpack(write: &mut Write, id: OutingId, item: Item) -> Result<(), AppError> {
    require_in(write.db(), id, OutingState::Packing).await?;
    let kept = reserved::of_outing(write.db(), id).await?;
    let same = |animal, cohort, stage| match item {
        Item::Animal(one) => animal == Some(one),
        Item::Lot(lot) => cohort == Some(lot.cohort) && stage == Some(lot.stage),
    };
    let standing = kept.iter().filter(|one| one.ended_as.is_none() && same(one.animal_id, one.cohort_id, one.stage));
    for reservation in standing {
        reserved::release(write, reservation.id).await?;
    }
    note_packed(write, id, item, 0).await
}

fn quantity(item: Item) -> u32 {
    match item {
        Item::Animal(_) => 1,
        Item::Lot(lot) => lot.quantity,
    }
}

fn of(stock: &[OutingItem], item: Item) -> u32 {
    let same = |one: &&OutingItem| match item {
        Item::Animal(animal) => one.animal_id == Some(animal),
        Item::Lot(lot) => one.cohort_id == Some(lot.cohort) && one.stage == Some(lot.stage),
    };
    stock.iter().find(same).map_or(0, |one| one.reserved)
}

async fn note_packed(write: &mut Write, id: OutingId, item: Item, quantity: u32) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let (animal, cohort, stage) = match item {
        Item::Animal(animal) => (Some(animal), None, None),
        Item::Lot(lot) => (None, Some(lot.cohort), Some(lot.stage)),
    };
    sqlx::query("INSERT INTO outing_packed (outing_id, animal_id, cohort_id, stage, quantity, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?)")
        .bind(id)
        .bind(animal)
        .bind(cohort)
        .bind(stage)
        .bind(quantity)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    touch(write, id).await
}

/// Freezes the take-out count: what is in the boxes goes out, and the rest is given free. Gives how many animals went.
///
/// # Errors
/// Nothing in the boxes; something chosen that is not, unless `leave_rest`; a list that changed since `version` was read; something
/// that is in the house no longer.
pub async fn go(write: &mut Write, id: OutingId, version: i64, leave_rest: bool) -> Result<u32, AppError> {
    let outing = require_in(write.db(), id, OutingState::Packing).await?;
    if outing.version != version {
        return Err(AppError::conflict("The list was changed since you opened it, so nothing went out. Look at it again first."));
    }
    let stock = stock(write.db(), id).await?;
    let packed: Vec<Item> = stock.iter().filter(|item| item.packed > 0).filter_map(|item| item.item(item.packed)).collect();
    if packed.is_empty() {
        return Err(AppError::refused("scan", "Nothing is in the boxes yet. Scan what you put in."));
    }
    let mut mistakes = Mistakes::none();
    for item in stock.iter().filter(|item| item.packed < item.reserved && !leave_rest) {
        let text =
            format!("{}: {} chosen, {} in the boxes. Pack the rest, or tick that it stays here.", item.words(), item.reserved, item.packed);
        mistakes.add("leave_rest", text);
    }
    if !mistakes.is_empty() {
        return Err(AppError::Refused(mistakes));
    }
    // Kept anew, so many as go: what lapsed or was sold meanwhile is noticed here.
    reserved::end_of_outing(write, id, ReservationEnd::Released).await?;
    let until = kept_until(&outing, write.today);
    let mut gone = 0;
    for item in packed {
        reserved::reserve(write, &NewReservation { item, keeper: keeper(id), until, note: outing.name.clone() }).await?;
        insert_line(write, id, item).await?;
        gone += quantity(item);
    }
    let (who, at) = (write.who, write.at);
    sqlx::query("UPDATE outing SET state = 'out', out_at = ?, out_by = ?, version = version + 1 WHERE id = ?")
        .bind(at)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    Ok(gone)
}

async fn insert_line(write: &mut Write, id: OutingId, item: Item) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let (animal, cohort, stage) = match item {
        Item::Animal(animal) => (Some(animal), None, None),
        Item::Lot(lot) => (None, Some(lot.cohort), Some(lot.stage)),
    };
    sqlx::query("INSERT INTO outing_line (outing_id, animal_id, cohort_id, stage, quantity, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?)")
        .bind(id)
        .bind(animal)
        .bind(cohort)
        .bind(stage)
        .bind(quantity(item))
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}
