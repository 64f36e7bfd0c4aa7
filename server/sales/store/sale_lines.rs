//! What is sold at which price: lines of orders and of handovers. A handover's stock lines follow them.

use sqlx::SqliteConnection;

use super::orders::{field_of, is_free, keep, require_open, same_stock, sized, touch_order};
use super::prices::prices_on;
use super::sale_facts::{self, Book};
use super::{require_draft, reserved, touch};
use crate::house::errors::AppError;
use crate::house::ids::{HandoverId, OrderId, SaleLineId};
use crate::house::write::Write;
use crate::sales::model::{Item, NewLine, Price, Priced, Sale, SaleLine, Wanted, price_for};

/// The lines of an order or of a handover, in the order they were added.
///
/// # Errors
/// The database can't be read.
pub async fn sale_lines(db: &mut SqliteConnection, of: Sale) -> Result<Vec<SaleLine>, AppError> {
    let (order, handover) = parts(of);
    Ok(sqlx::query_as(
        "SELECT line.id, line.order_id, line.handover_id, line.animal_id, line.cohort_id, line.stage,
                COALESCE(animal.tag, cohort.code) AS label, species.id AS species_id, species.accepted_name AS species,
                line.packs, line.pack_of, line.list_minor, line.unit_minor, COALESCE(handover.state = 'done', 0) AS is_done
         FROM sale_line AS line
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         LEFT JOIN handover ON handover.id = line.handover_id
         WHERE line.order_id = ?1 OR line.handover_id = ?2 ORDER BY line.id",
    )
    .bind(order)
    .bind(handover)
    .fetch_all(db)
    .await?)
}

fn parts(of: Sale) -> (Option<OrderId>, Option<HandoverId>) {
    match of {
        Sale::Order(order) => (Some(order), None),
        Sale::Handover(handover) => (None, Some(handover)),
    }
}

/// How many of an item the lines of an order or handover ask for that have not been handed over.
///
/// # Errors
/// The database can't be read.
pub(super) async fn pieces_of(db: &mut SqliteConnection, of: Sale, item: Item) -> Result<u32, AppError> {
    let lines = sale_lines(db, of).await?;
    let own = lines.iter().filter(|line| !line.is_done && line.item().is_some_and(|other| same_stock(other, item)));
    Ok(own.map(SaleLine::pieces).sum())
}

/// What bears on the price of something, and the prices of the day.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such animal or cohort.
async fn listed(write: &mut Write, item: Item) -> Result<(Priced, Vec<Price>), AppError> {
    let (at, zone, today) = (write.at, write.zone, write.today);
    let prices = prices_on(write.db(), today).await?;
    let book = Book::read(write.db(), at, zone).await?;
    let found = match item {
        Item::Animal(animal) => sale_facts::animals(write.db(), Some(animal), &book).await?,
        Item::Lot(lot) => sale_facts::lots(write.db(), Some((lot.cohort, lot.stage)), Default::default(), &book).await?,
    };
    let subject = found.into_iter().next().ok_or(AppError::NotFound)?;
    let priced = Priced { species: subject.species_id, stage: subject.facts.stage, span_mm: subject.facts.span_mm, sex: subject.sex };
    Ok((priced, prices))
}

/// Adds what is wanted to an order or a handover, at the price of the day's list. More of the same lot in the same packs is added
/// to its line. An order keeps it at once.
///
/// # Errors
/// What has ended takes nothing more; an animal that is on it already, is gone, or is reserved for others; more than are free:
/// who has them.
pub async fn add(write: &mut Write, to: Sale, wanted: Wanted) -> Result<SaleLineId, AppError> {
    let item = wanted.item();
    match to {
        Sale::Order(order) => drop(require_open(write.db(), order).await?),
        Sale::Handover(handover) => drop(require_draft(write.db(), handover).await?),
    }
    let lines = sale_lines(write.db(), to).await?;
    if let Sale::Handover(handover) = to {
        check_stall(write, handover, &lines, wanted).await?;
    }
    let same =
        lines.iter().find(|line| !line.is_done && line.item().is_some_and(|other| same_stock(other, item)) && mergeable(line, to, wanted));
    let id = match (same, wanted) {
        (Some(line), Wanted::Packs { packs, .. }) => grow(write, line, packs).await?,
        (Some(line), Wanted::Animal(_)) => {
            let what = format!("Tag {} is already on the list.", line.label);
            return Err(AppError::refused("tag", what));
        }
        (None, _) => insert(write, to, wanted).await?,
    };
    follow(write, to, item).await?;
    Ok(id)
}

/// At a stall, refuses what is not left on the outing beside what is on the list already.
async fn check_stall(write: &mut Write, id: HandoverId, lines: &[SaleLine], wanted: Wanted) -> Result<(), AppError> {
    let item = wanted.item();
    let Some(left) = super::outings::left_for(write.db(), id, item).await? else { return Ok(()) };
    let listed: u32 = lines.iter().filter(|line| line.item().is_some_and(|other| same_stock(other, item))).map(SaleLine::pieces).sum();
    match item {
        Item::Animal(_) if left == 0 => {
            Err(AppError::refused("tag", "This animal is not out on the outing, or is sold already. Choose one that is."))
        }
        Item::Lot(lot) if lot.quantity + listed > left => {
            let more = left.saturating_sub(listed);
            Err(AppError::refused("quantity", format!("Only {more} more are left on the outing. Enter fewer.")))
        }
        _ => Ok(()),
    }
}

/// Whether more can be added to a line: of an animal always (it is refused), of a lot when the packs are of the same size.
fn mergeable(line: &SaleLine, to: Sale, wanted: Wanted) -> bool {
    match wanted {
        Wanted::Animal(_) => true,
        Wanted::Packs { pack_of, .. } => {
            line.pack_of == pack_of
                && matches!((to, line.order_id, line.handover_id), (Sale::Order(_), _, None) | (Sale::Handover(_), None, _))
        }
    }
}

async fn grow(write: &mut Write, line: &SaleLine, packs: u32) -> Result<SaleLineId, AppError> {
    let most = 3000 / line.pack_of;
    if line.packs + packs > most {
        return Err(AppError::refused("quantity", format!("At most {most} fit on one line; {} are on it already.", line.packs)));
    }
    sqlx::query("UPDATE sale_line SET packs = packs + ? WHERE id = ?").bind(packs).bind(line.id).execute(write.db()).await?;
    Ok(line.id)
}

async fn insert(write: &mut Write, to: Sale, wanted: Wanted) -> Result<SaleLineId, AppError> {
    let (order, handover) = parts(to);
    let (priced, prices) = listed(write, wanted.item()).await?;
    let new = NewLine::of(wanted);
    let listed = price_for(&prices, &priced, new.pack_of).map(|price| price.amount_minor);
    Ok(sqlx::query_scalar(
        "INSERT INTO sale_line (order_id, handover_id, animal_id, cohort_id, stage, packs, pack_of, list_minor, unit_minor)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?8) RETURNING id",
    )
    .bind(order)
    .bind(handover)
    .bind(new.animal)
    .bind(new.cohort)
    .bind(new.stage)
    .bind(new.packs)
    .bind(new.pack_of)
    .bind(listed)
    .fetch_one(write.db())
    .await?)
}

/// After a change of lines: an order keeps what they ask for, a handover's stock line has their pieces, if as many are free.
async fn follow(write: &mut Write, of: Sale, item: Item) -> Result<(), AppError> {
    match of {
        Sale::Order(order) => {
            keep(write, order, item).await?;
            touch_order(write, order).await
        }
        Sale::Handover(handover) => {
            let wanted = pieces_of(write.db(), of, item).await?;
            if wanted > 0 {
                let keeper = reserved::keeper_of(write.db(), handover).await?;
                is_free(write, item, wanted, keeper).await?;
            }
            set_stock_line(write, handover, item, wanted).await?;
            touch(write, handover).await
        }
    }
}

/// Gives a handover's stock line of an item this many.
pub(super) async fn set_stock_line(write: &mut Write, handover: HandoverId, item: Item, quantity: u32) -> Result<(), AppError> {
    let (animal, cohort, stage) = match item {
        Item::Animal(animal) => (Some(animal), None, None),
        Item::Lot(lot) => (None, Some(lot.cohort), Some(lot.stage)),
    };
    if quantity > 3000 {
        return Err(AppError::refused(field_of(item), "At most 3000 of one lot leave with one handover."));
    }
    let there = sqlx::query(
        "UPDATE handover_line SET quantity = MAX(?1, 1) WHERE handover_id = ?2 AND animal_id IS ?3 AND cohort_id IS ?4 AND stage IS ?5",
    )
    .bind(quantity)
    .bind(handover)
    .bind(animal)
    .bind(cohort)
    .bind(stage)
    .execute(write.db())
    .await?
    .rows_affected()
        > 0;
    if quantity == 0 {
        sqlx::query("DELETE FROM handover_line WHERE handover_id = ? AND animal_id IS ? AND cohort_id IS ? AND stage IS ?")
            .bind(handover)
            .bind(animal)
            .bind(cohort)
            .bind(stage)
            .execute(write.db())
            .await?;
    } else if !there {
        sqlx::query("INSERT INTO handover_line (handover_id, animal_id, cohort_id, stage, quantity) VALUES (?, ?, ?, ?, ?)")
            .bind(handover)
            .bind(animal)
            .bind(cohort)
            .bind(stage)
            .bind(quantity)
            .execute(write.db())
            .await?;
    }
    Ok(())
}

/// A change of a line: how many packs, and the price of one.
#[derive(Debug, Clone, Copy)]
pub struct LineChange {
    /// The line.
    pub id: SaleLineId,
    /// How many packs; none leaves them.
    pub packs: Option<u32>,
    /// The price of one; none: nobody has said.
    pub unit_minor: Option<i64>,
}

/// Changes lines of an order or a handover. Gives how many differ from before.
///
/// # Errors
/// What has ended, lines that are not on it (any more), more than are free.
pub async fn change_lines(write: &mut Write, of: Sale, changes: &[LineChange]) -> Result<usize, AppError> {
    match of {
        Sale::Order(order) => drop(require_open(write.db(), order).await?),
        Sale::Handover(handover) => drop(require_draft(write.db(), handover).await?),
    }
    let lines = sale_lines(write.db(), of).await?;
    let mut changed = 0;
    for change in changes {
        let gone = || AppError::conflict("A line was taken off meanwhile. Look at the list again first.");
        let line = lines.iter().find(|line| line.id == change.id && !line.is_done).ok_or_else(gone)?;
        let packs = change.packs.unwrap_or(line.packs);
        if (packs, change.unit_minor) == (line.packs, line.unit_minor) {
            continue;
        }
        changed += 1;
        sqlx::query("UPDATE sale_line SET packs = ?, unit_minor = ? WHERE id = ?")
            .bind(packs)
            .bind(change.unit_minor)
            .bind(line.id)
            .execute(write.db())
            .await?;
        if let Some(item) = line.item().filter(|_| packs != line.packs) {
            follow(write, of, sized(item, packs * line.pack_of)).await?;
        }
    }
    match of {
        Sale::Order(order) => touch_order(write, order).await?,
        Sale::Handover(handover) => touch(write, handover).await?,
    }
    Ok(changed)
}

/// Takes a line off an order; what was kept for it is free again.
///
/// # Errors
/// An order that has ended; a line that is on a handover, or off already.
pub async fn remove_from_order(write: &mut Write, order: OrderId, id: SaleLineId) -> Result<(), AppError> {
    require_open(write.db(), order).await?;
    let lines = sale_lines(write.db(), Sale::Order(order)).await?;
    let line = lines.into_iter().find(|line| line.id == id);
    let line = line.ok_or_else(|| AppError::conflict("This line has been taken off already."))?;
    if let Some(handover) = line.handover_id {
        return Err(AppError::conflict(format!("This line is on handover {handover}. Take it off there first.")));
    }
    sqlx::query("DELETE FROM sale_line WHERE id = ?").bind(id).execute(write.db()).await?;
    if let Some(item) = line.item() {
        release_or_keep(write, order, item).await?;
    }
    touch_order(write, order).await
}

/// What an order no longer asks for is released even when its day is past.
async fn release_or_keep(write: &mut Write, order: OrderId, item: Item) -> Result<(), AppError> {
    let until = require_open(write.db(), order).await?.reserve_until;
    if until.is_some_and(|until| until >= write.today) {
        return keep(write, order, item).await;
    }
    reserved::lapse(write).await.map(drop)
}

/// Takes a stock line's prices off a handover: what came from an order goes back to it, the rest goes.
///
/// # Errors
/// The database can't be written.
pub(super) async fn leave_handover(write: &mut Write, handover: HandoverId, item: Option<Item>) -> Result<(), AppError> {
    for line in sale_lines(write.db(), Sale::Handover(handover)).await? {
        let meant = item.is_none_or(|item| line.item().is_some_and(|other| same_stock(other, item)));
        if !meant {
            continue;
        }
        match line.order_id {
            Some(_) => sqlx::query("UPDATE sale_line SET handover_id = NULL WHERE id = ?").bind(line.id).execute(write.db()).await?,
            None if item.is_some() => sqlx::query("DELETE FROM sale_line WHERE id = ?").bind(line.id).execute(write.db()).await?,
            None => continue,
        };
    }
    Ok(())
}
