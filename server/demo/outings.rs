//! What the made-up house sends and takes along: an expo that was reconciled, one that is planned, a parcel that arrived, and an
//! animal that was brought back with a credit note.

use chrono::{Days, NaiveDate};

use super::{Building, instant};
use crate::animals;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{BuyerId, HandoverId};
use crate::house::write::Write;
use crate::reckoning::dispatch::Forecast;
use crate::reckoning::units::Unit;
use crate::reckoning::words::LossCause;
use crate::rounds;
use crate::sales::model::{
    ArrivalLine, Back, BackHome, CreditWhy, Item, Keeper, Lot, NewArrival, NewBuyer, NewCredit, NewCreditLine, NewJourney, NewOuting,
    NewReturn, Offer, Sale, Wanted,
};
use crate::sales::store::{self, arrivals, credits, outings, returns, road, sale_lines};

/// A few days before today something is sent, an expo is held, and an animal comes back. The clock is set back and then on again.
pub(super) async fn out_and_back(building: &mut Building, today: NaiveDate) -> Result<(), AppError> {
    let days_ago = |days| today.checked_sub_days(Days::new(days)).unwrap_or(today);
    building.day = days_ago(9);
    building.at(9);
    expo(building).await?;
    building.day = days_ago(6);
    parcel(building).await?;
    building.day = days_ago(2);
    building.at(15);
    brought_back(building).await?;
    building.day = today;
    building.at(8);
    let odile = building.named("odile");
    let mut write = building.app.write(Some(odile)).await?;
    let day = today.checked_add_days(Days::new(10)).unwrap_or(today);
    let new = NewOuting { name: "Port Wend spider days".to_owned(), day, last_day: day.succ_opt(), note: "Table 12, two lamps".to_owned() };
    let id = outings::plan(&mut write, &new).await?;
    for offer in lots(&mut write).await?.into_iter().take(2) {
        outings::take(&mut write, id, lot(&offer, 6)).await?;
    }
    write.commit(Change::new("outing.planned", format!("outing {id}"), new.name), "/outings").await
}

/// Stages of cohorts that may be sold, those with the most free first.
async fn lots(write: &mut Write) -> Result<Vec<Offer>, AppError> {
    let today = write.today;
    let mut offers = store::offers(write.db(), today, Keeper::default()).await?;
    offers.retain(|offer| offer.stage.feeds() && offer.free >= 12);
    offers.sort_by_key(|offer| std::cmp::Reverse(offer.free));
    Ok(offers)
}

fn lot(offer: &Offer, quantity: u32) -> Item {
    Item::Lot(Lot { cohort: offer.cohort_id, stage: offer.stage, quantity })
}

async fn buyer(write: &mut Write, name: &str, contact: &str, address: &str) -> Result<BuyerId, AppError> {
    let new = NewBuyer { name: name.to_owned(), contact: contact.to_owned(), address: address.to_owned() };
    store::insert_buyer(write, &new).await
}

/// Hands over with a lead's reason, as the made-up counter would not have waited.
async fn hand_over(building: &Building, write: &mut Write, id: HandoverId) -> Result<bool, AppError> {
    store::show_risk(write, id).await?;
    match store::hand_over(write, &building.app, id, Some("the buyer was told")).await {
        Ok(done) => {
            for cohort in &done.cohorts {
                rounds::store::replan_cohort(write, *cohort).await?;
            }
            Ok(true)
        }
        Err(AppError::Refused(_) | AppError::Conflict(_)) => Ok(false),
        Err(error) => Err(error),
    }
}

async fn expo(building: &Building) -> Result<(), AppError> {
    let lead = building.named("tamsin");
    let mut write = building.app.write(Some(lead)).await?;
    let new = NewOuting { name: "Lower Marsh reptile fair".to_owned(), day: write.today, last_day: None, note: String::new() };
    let id = outings::plan(&mut write, &new).await?;
    let chosen: Vec<Offer> = lots(&mut write).await?.into_iter().take(2).collect();
    for offer in &chosen {
        outings::pack(&mut write, id, lot(offer, 10)).await?;
    }
    if chosen.is_empty() {
        return Ok(());
    }
    let version = outings::require(write.db(), id).await?.version;
    outings::go(&mut write, id, version, false).await?;
    write.commit(Change::new("outing.went-out", format!("outing {id}"), new.name), "/outings").await?;
    let mut write = building.app.write(Some(lead)).await?;
    let visitor = buyer(&mut write, "P. Sedgewick", "", "").await?;
    let handover = outings::begin_sale(&mut write, id, visitor, "").await?;
    for offer in &chosen {
        let wanted = Wanted::Packs { cohort: offer.cohort_id, stage: offer.stage, packs: 5, pack_of: 1 };
        sale_lines::add(&mut write, Sale::Handover(handover), wanted).await?;
    }
    if hand_over(building, &mut write, handover).await? {
        write.commit(Change::new("handover.done", format!("handover {handover}"), "at the stall"), "/handovers").await?;
    }
    building.at(19);
    let mut write = building.app.write(Some(lead)).await?;
    if store::require_handover(write.db(), handover).await.is_ok_and(|handover| handover.day.is_none()) {
        store::cancel(&mut write, handover).await?;
    }
    let mut counted = Vec::new();
    for (place, line) in outings::lines(write.db(), id).await?.iter().enumerate() {
        let (dead, missing) = (u32::from(place == 0), u32::from(place == 1));
        counted.push(Back { line: line.id, returned: line.left() - dead - missing, dead, missing });
    }
    let apart_until = write.today.checked_add_days(Days::new(10)).unwrap_or(write.today);
    let home = BackHome { cause: LossCause::Transport, apart_until, shelf: None };
    let done = outings::reconcile(&mut write, id, &counted, &home).await?;
    for cohort in &done.cohorts {
        rounds::store::replan_cohort(&mut write, *cohort).await?;
    }
    write.commit(Change::new("outing.reconciled", format!("outing {id}"), done.total), "/outings").await
}

async fn parcel(building: &Building) -> Result<(), AppError> {
    building.at(10);
    let lead = building.named("tamsin");
    let mut write = building.app.write(Some(lead)).await?;
    let Some(offer) = lots(&mut write).await?.into_iter().next() else { return Ok(()) };
    let far = buyer(&mut write, "L. Fernsby", "l.fernsby@post.example", "Quay 3, North Wend").await?;
    let handover = store::insert_handover(&mut write, far, "").await?;
    let wanted = Wanted::Packs { cohort: offer.cohort_id, stage: offer.stage, packs: 8, pack_of: 1 };
    sale_lines::add(&mut write, Sale::Handover(handover), wanted).await?;
    let (here, there) = (Forecast { low: 80, high: 190 }, Forecast { low: 110, high: 210 });
    let day = write.today;
    let journey = NewJourney { carrier: "Night van, depot pick-up".to_owned(), day, unit: Unit::Celsius, here, there, note: String::new() };
    road::plan_journey(&mut write, handover, &journey).await?;
    if !hand_over(building, &mut write, handover).await? {
        return Ok(());
    }
    write.commit(Change::new("handover.done", format!("handover {handover}"), "sent"), "/handovers").await?;
    let next = day.succ_opt().unwrap_or(day);
    building.app.clock.set(instant(next, 12));
    let mut write = building.app.write(Some(lead)).await?;
    let lines = store::lines(write.db(), handover).await?;
    let told = lines.iter().map(|line| ArrivalLine { handover_line_id: line.id, alive: line.quantity - 1, injured: 0, dead: 1 });
    let new = NewArrival {
        arrived_at: instant(next, 9),
        claimed_at: Some(instant(next, 10)),
        note: "One vial was cracked, picture kept".to_owned(),
        lines: told.collect(),
    };
    arrivals::record(&mut write, handover, None, &new).await?;
    write.commit(Change::new("handover.arrived", format!("handover {handover}"), "one dead"), "/handovers").await
}

/// The last animal that was sold comes back, and its price is credited where the house has a currency.
async fn brought_back(building: &Building) -> Result<(), AppError> {
    let lead = building.named("tamsin");
    let mut write = building.app.write(Some(lead)).await?;
    let Some((handover, line)) = last_sold(&mut write).await? else { return Ok(()) };
    let quarantine_until = write.today.checked_add_days(Days::new(30)).unwrap_or(write.today);
    let new = NewReturn {
        line: line.id,
        quantity: 1,
        stage: None,
        day: write.today,
        reason: "the buyer moves abroad".to_owned(),
        condition: "sound, well fed".to_owned(),
        quarantine_until,
        shelf: None,
    };
    returns::take_back(&mut write, handover, &new).await?;
    if let Some(animal) = line.animal_id {
        rounds::store::replan_animal(&mut write, animal).await?;
    }
    write.commit(Change::new("handover.brought-back", format!("handover {handover}"), line.words()), "/handovers").await?;
    let mut write = building.app.write(Some(lead)).await?;
    let Some(terms) = store::terms::terms(write.db()).await? else { return Ok(()) };
    let known = credits::so_far(write.db(), handover).await?;
    let charged = known.iter().find(|known| known.handover_line_id == line.id).and_then(|known| known.charged_minor).unwrap_or(4500);
    let Ok(tax) = terms.rate() else { return Ok(()) };
    let credited =
        NewCreditLine { line: line.id, quantity: 1, why: CreditWhy::Returned, charged_minor: charged, amount_minor: charged.max(2) / 2 };
    let new = NewCredit { tax, lines: vec![credited], note: "Half the price, as agreed.".to_owned() };
    let issued = credits::issue(&mut write, &building.app, handover, &new).await?;
    write.commit(Change::new("handover.credited", format!("handover {handover}"), issued.number), "/handovers").await
}

async fn last_sold(write: &mut Write) -> Result<Option<(HandoverId, crate::sales::model::Line)>, AppError> {
    let done = store::handovers(write.db(), crate::sales::model::HandoverState::Done, 30).await?;
    for handover in done.iter().filter(|handover| handover.way == crate::sales::model::Way::Collection) {
        for line in store::lines(write.db(), handover.id).await? {
            if let Some(animal) = line.animal_id {
                let animal = animals::store::require(write.db(), animal).await?;
                if animal.status == animals::model::AnimalStatus::Sold {
                    return Ok(Some((handover.id, line)));
                }
            }
        }
    }
    Ok(None)
}
