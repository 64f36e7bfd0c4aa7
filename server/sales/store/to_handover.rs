//! From an order to a handover.

use super::orders::{begin_handover, require_open, same_stock};
use super::readiness::check_all;
use super::sale_lines::{sale_lines, set_stock_line};
use crate::house::errors::AppError;
use crate::house::ids::{HandoverId, OrderId};
use crate::house::write::Write;
use crate::sales::model::{CheckedLine, Item, Keeper, Line, Sale, SaleLine};

/// What a handover took from its order.
#[derive(Debug)]
pub struct Taken {
    /// The handover.
    pub handover: HandoverId,
    /// What stays on the order, each with the reason.
    pub left: Vec<String>,
}

/// Makes a handover of an order's lines: those that may leave today, or all of them. What may not stays on the order for a later
/// handover. Prices go along.
///
/// # Errors
/// An order that has ended; nothing on it that is not on a handover already, or nothing that may leave today.
pub async fn to_handover(write: &mut Write, id: OrderId, all: bool) -> Result<Taken, AppError> {
    let order = require_open(write.db(), id).await?;
    let open: Vec<SaleLine> =
        sale_lines(write.db(), Sale::Order(id)).await?.into_iter().filter(|line| line.handover_id.is_none()).collect();
    if open.is_empty() {
        return Err(AppError::conflict("Nothing is on this order that is not on a handover already."));
    }
    let keeper = Keeper { buyer: Some(order.buyer_id), order: Some(id), outing: None };
    let checked = checked(write, &open, keeper).await?;
    let (going, staying): (Vec<&CheckedLine>, Vec<&CheckedLine>) = checked.iter().partition(|line| all || may_go(line));
    let left: Vec<String> = staying.iter().map(|line| format!("{}: {}", line.line.words(), reasons(line))).collect();
    if going.is_empty() {
        return Err(AppError::refused("", format!("Nothing of this order may leave today. {}.", left.join(". "))));
    }
    let handover = begin_handover(write, &order).await?;
    for item in going.iter().filter_map(|line| line.line.item()) {
        for line in open.iter().filter(|line| line.item().is_some_and(|other| same_stock(other, item))) {
            sqlx::query("UPDATE sale_line SET handover_id = ? WHERE id = ?").bind(handover).bind(line.id).execute(write.db()).await?;
        }
        let quantity = if let Item::Lot(lot) = item { lot.quantity } else { 1 };
        set_stock_line(write, handover, item, quantity).await?;
    }
    Ok(Taken { handover, left })
}

fn may_go(line: &CheckedLine) -> bool {
    !line.blocked() && line.impossible.is_none()
}

fn reasons(line: &CheckedLine) -> String {
    let blocking = line.findings.iter().filter(|finding| finding.blocks).map(|finding| finding.text.clone());
    line.impossible.iter().cloned().chain(blocking).collect::<Vec<_>>().join("; ")
}

/// The order's stock, each item once, by the check that a handover makes.
async fn checked(write: &mut Write, open: &[SaleLine], keeper: Keeper) -> Result<Vec<CheckedLine>, AppError> {
    let (at, zone) = (write.at, write.zone);
    check_all(write.db(), stock_lines(open), keeper, at, zone).await
}

/// Lines of prices as lines of stock: each item once, with all its pieces.
pub(super) fn stock_lines(of: &[SaleLine]) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    for line in of {
        let Some(item) = line.item() else { continue };
        match lines.iter_mut().find(|known| known.item().is_some_and(|other| same_stock(other, item))) {
            Some(known) => known.quantity += line.pieces(),
            None => lines.push(Line {
                id: crate::house::ids::HandoverLineId(line.id.0),
                handover_id: None,
                animal_id: line.animal_id,
                cohort_id: line.cohort_id,
                stage: line.stage,
                quantity: line.pieces(),
                label: line.label.clone(),
                species_id: line.species_id,
                species: line.species.clone(),
                paper_id: None,
            }),
        }
    }
    lines
}

/// An order's open lines by the check that a handover makes, for its page.
///
/// # Errors
/// The database can't be read.
pub async fn checked_order(
    db: &mut sqlx::SqliteConnection,
    id: OrderId,
    keeper: Keeper,
    now: chrono::DateTime<chrono::Utc>,
    zone: chrono_tz::Tz,
) -> Result<Vec<CheckedLine>, AppError> {
    let open: Vec<SaleLine> = sale_lines(&mut *db, Sale::Order(id)).await?.into_iter().filter(|line| line.handover_id.is_none()).collect();
    check_all(db, stock_lines(&open), keeper, now, zone).await
}
