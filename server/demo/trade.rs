//! What leaves the made-up house: handovers to buyers, papers and all.

use rand::RngExt as _;

use super::Building;
use super::nursery::Nursery;
use super::orders;
use super::stock::Stock;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, BuyerId, HandoverId};
use crate::reckoning::stage::Stage;
use crate::sales::model::{Lot, NewBuyer};
use crate::sales::store;
use crate::{cohorts, rounds};

const BUYERS: [(&str, &str, &str); 8] = [
    ("R. Quillfeather", "+49 30 5550101", "Mill Lane 4, Lower Marsh"),
    ("Society of the Eight", "bookings@eight.example", "Harbour Hall, Port Wend"),
    ("A. Thistledown", "a.thistledown@post.example", ""),
    ("Wend Valley School", "office@wendvalley.example", "School Road 1, Wend"),
    ("M. Oakapple", "+49 30 5550177", "Birch Close 12, Upper Marsh"),
    ("J. Larkmoss", "j.larkmoss@post.example", ""),
    ("柳田 はね", "+81 3 5550 0142", "羽町 3-2"),
    ("ليلى الريشة", "layla@post.example", "شارع الريش ٧"),
];

/// Once a week something may leave: a lot of spiderlings, an animal, or both.
pub(super) async fn sell(building: &mut Building, stock: &mut Stock, nursery: &mut Nursery) -> Result<(), AppError> {
    let lot = lot(building, nursery).await?;
    let animal = pick(building, stock, if lot.is_some() { 0.3 } else { 0.5 });
    if lot.is_none() && animal.is_none() {
        return Ok(());
    }
    let (name, contact, address) = BUYERS.get(building.rng.random_range(0..BUYERS.len())).copied().unwrap_or_default();
    let mut write = building.app.write(Some(building.named("odile"))).await?;
    let buyer = buyer_named(&mut write, name, contact, address).await?;
    let handover = store::insert_handover(&mut write, buyer, "").await?;
    if let Some(lot) = lot {
        store::add_lot_line(&mut write, handover, lot).await?;
    }
    if let Some(animal) = animal {
        store::add_animal_line(&mut write, handover, animal).await?;
    }
    orders::name_prices(&mut write, handover).await?;
    write.commit(Change::new("handover.opened", format!("handover {handover}"), ""), "/handovers").await?;
    if !finish(building, handover).await? {
        return Ok(());
    }
    if let Some((lot, brood)) = lot.and_then(|lot| Some((lot, nursery.broods.iter_mut().find(|brood| brood.cohort == lot.cohort)?))) {
        brood.take(lot.stage, lot.quantity);
    }
    if let Some(animal) = animal {
        stock.lives.remove(&animal);
    }
    Ok(())
}

/// What a brood can spare this week.
async fn lot(building: &mut Building, nursery: &Nursery) -> Result<Option<Lot>, AppError> {
    let Some(brood) = nursery.ready(building.day) else { return Ok(None) };
    let (stage, standing) = brood.main_stage();
    let free = u32::try_from(free_of(building, brood.cohort).await?).unwrap_or(0);
    let quantity = building.rng.random_range(6..=18).min(standing).min(free);
    Ok((stage >= Stage::Instar(2) && quantity > 0).then_some(Lot { cohort: brood.cohort, stage, quantity }))
}

/// Hands over, unless the readiness check stops something: then the draft is called off.
async fn finish(building: &Building, handover: HandoverId) -> Result<bool, AppError> {
    let odile = building.named("odile");
    let mut write = building.app.write(Some(odile)).await?;
    store::show_risk(&mut write, handover).await?;
    match store::hand_over(&mut write, &building.app, handover, None).await {
        Ok(done) => {
            for cohort in &done.cohorts {
                rounds::store::replan_cohort(&mut write, *cohort).await?;
            }
            let after = format!("{} papers", done.papers.len());
            write.commit(Change::new("handover.done", format!("handover {handover}"), after), "/handovers").await?;
            Ok(true)
        }
        Err(AppError::Refused(_) | AppError::Conflict(_)) => {
            drop(write);
            let mut write = building.app.write(Some(odile)).await?;
            store::cancel(&mut write, handover).await?;
            write.commit(Change::new("handover.cancelled", format!("handover {handover}"), "not ready to leave"), "/handovers").await?;
            Ok(false)
        }
        Err(error) => Err(error),
    }
}

async fn free_of(building: &Building, cohort: crate::house::ids::CohortId) -> Result<i64, AppError> {
    let mut db = building.app.read().await?;
    Ok(cohorts::store::alive(&mut db, cohort).await? - cohorts::store::held_back(&mut db, cohort).await?)
}

async fn buyer_named(write: &mut crate::house::write::Write, name: &str, contact: &str, address: &str) -> Result<BuyerId, AppError> {
    let known = store::buyers(write.db()).await?.into_iter().find(|buyer| buyer.name == name);
    match known {
        Some(buyer) => Ok(buyer.id),
        None => {
            let new = NewBuyer { name: name.to_owned(), contact: contact.to_owned(), address: address.to_owned() };
            store::insert_buyer(write, &new).await
        }
    }
}

/// An animal that is not needed for breeding, with some chance.
fn pick(building: &mut Building, stock: &Stock, chance: f64) -> Option<AnimalId> {
    if !building.rng.random_bool(chance) {
        return None;
    }
    let breeding: Vec<AnimalId> = stock.pairs.values().flatten().flat_map(|(dam, sire)| [*dam, *sire]).collect();
    let ready = stock.lives.iter().filter(|(id, life)| life.may_travel(building.day) && !breeding.contains(id));
    let free: Vec<AnimalId> = ready.map(|(id, _)| *id).collect();
    (!free.is_empty()).then(|| free.get(building.rng.random_range(0..free.len())).copied()).flatten()
}
