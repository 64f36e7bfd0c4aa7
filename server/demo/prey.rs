//! Prey of the made-up house: deliveries that follow what was used, what dies off, and a count now and then.

use chrono::{Datelike as _, Weekday};
use rand::RngExt as _;

use super::Building;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::text;
use crate::rounds::model::prey::{LineWhat, NewLine, Stock};
use crate::rounds::store::prey as store;

/// An order is placed when less is left than was used in so many days, and fills up to twice as many.
const ORDER_BELOW_DAYS: i64 = 8;
/// What somebody pays for a pack, in minor units.
const PACK_COST: std::ops::Range<i64> = 280..640;

/// Makes the list, before anything is fed.
pub(super) async fn begin(building: &mut Building) -> Result<(), AppError> {
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    let added = store::add_usual_kinds(&mut write).await?;
    write.commit(Change::new("prey-kind.added", "prey", format!("{added} usual kinds")), "/today/prey/kinds").await
}

/// One morning with the prey: twice a week something comes where it runs short, once a week the dead are taken out, once a
/// month it is counted.
pub(super) async fn keep(building: &mut Building) -> Result<(), AppError> {
    let (day, first) = (building.day, building.day == building.first);
    let delivery = first || matches!(day.weekday(), Weekday::Tue | Weekday::Fri);
    if !delivery && day.weekday() != Weekday::Mon {
        return Ok(());
    }
    let counts = day.weekday() == Weekday::Mon && day.day() <= 7;
    let mut write = building.app.write(Some(building.named("joss"))).await?;
    let used = store::used_since(write.db(), day - chrono::Days::new(7)).await?;
    let mut told = Vec::new();
    for stock in store::stock(write.db()).await? {
        let a_day = used.get(&stock.kind.id).copied().unwrap_or(0).div_euclid(7);
        let entry = match (delivery, counts) {
            (true, _) => delivered(building, &stock, a_day, first),
            (false, true) => {
                let counted = building.rng.random_range(92..101) * i64::from(stock.on_hand()) / 100;
                store::count(&mut write, stock.kind.id, u32::try_from(counted).unwrap_or(0), "monthly count").await?;
                told.push(format!("{}: {counted}", stock.kind.label()));
                None
            }
            (false, false) => died(building, &stock),
        };
        if let Some(new) = entry {
            store::add_line(&mut write, &new).await?;
            told.push(format!("{}: {} {}", stock.kind.label(), new.quantity, new.what));
        }
    }
    write.commit(Change::new("prey.entered", "prey", told.join("; ")), "/today/prey").await
}

fn line(building: &Building, stock: &Stock, what: LineWhat, quantity: u32) -> NewLine {
    NewLine { kind: stock.kind.id, day: building.day, what, quantity, cost_minor: None, note: String::new() }
}

/// Whole packs, where less is left than a week or so takes.
fn delivered(building: &mut Building, stock: &Stock, a_day: i64, first: bool) -> Option<NewLine> {
    let short = if first && stock.kind.staple { i64::from(stock.kind.per_pack) } else { 2 * ORDER_BELOW_DAYS * a_day - stock.quantity };
    if short <= 0 || (!first && stock.quantity >= ORDER_BELOW_DAYS * a_day) {
        return None;
    }
    let packs = u32::try_from(short).ok()?.div_ceil(stock.kind.per_pack);
    let cost = i64::from(packs) * building.rng.random_range(PACK_COST);
    let new = line(building, stock, LineWhat::Delivered, packs * stock.kind.per_pack);
    Some(NewLine { cost_minor: Some(cost), note: text::count(&packs.into(), "pack", "packs"), ..new })
}

/// A few in a hundred die in a week.
fn died(building: &mut Building, stock: &Stock) -> Option<NewLine> {
    let dead = stock.on_hand() * building.rng.random_range(0..6) / 100;
    (dead > 0).then(|| line(building, stock, LineWhat::Died, dead))
}
