//! What the made-up house sells by: its currency, its price lists, and the orders that are open today.

use chrono::{Days, NaiveDate};

use super::Building;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{BuyerId, SpeciesId};
use crate::house::money::Currency;
use crate::house::paths;
use crate::house::write::Write;
use crate::reckoning::money::{Rounding, TaxRate};
use crate::reckoning::stage::Stage;
use crate::sales::model::{HandoverState, NewOrder, NewPrice, NewTerms, PriceClass, PriceSex, Sale, StockItem, Wanted, Way};
use crate::sales::store::{self, orders, prices, sale_lines, stock, terms};

/// Prices of a species in cents: a second instar, five of them, a third instar, a juvenile, a grown one, a grown female.
const CLASSES: [i64; 6] = [900, 3800, 1200, 3500, 6900, 12_900];

/// Currency, tax and a first price list, from the first day on.
pub(super) async fn begin(building: &Building) -> Result<(), AppError> {
    let owner = building.named("tamsin");
    let mut write = building.app.write(Some(owner)).await?;
    let euro = Currency::of("EUR").ok_or(AppError::NotFound)?;
    let tax: TaxRate = "19".parse().map_err(|error: crate::reckoning::money::MoneyError| AppError::Internal(error.into()))?;
    let new = NewTerms {
        currency: euro,
        tax_name: "VAT".to_owned(),
        tax,
        prices_include_tax: true,
        rounding: Rounding::Document,
        tax_number: "00/000/00000".to_owned(),
        reserve_days: 7,
    };
    terms::set_terms(&mut write, 0, &new).await?;
    write.commit(Change::new("terms.changed", "terms", "EUR, VAT 19 % within the prices"), paths::PRICES).await?;
    let mut write = building.app.write(Some(owner)).await?;
    let list = prices::begin_list(&mut write).await?;
    let known = crate::species::store::all(write.db()).await?;
    for (place, species) in known.iter().enumerate() {
        // A round euro or two apart, so that the list reads like one that somebody thought about.
        let dearer = i64::try_from(place % 5).unwrap_or(0) * 100;
        for price in of_species(species.id, dearer) {
            prices::add_price(&mut write, list, &price).await?;
        }
    }
    let today = write.today;
    prices::publish(&mut write, list, today, "the first list").await?;
    write.commit(Change::new("prices.published", format!("price list {list}"), "the first list"), paths::PRICES).await
}

fn of_species(species: SpeciesId, dearer: i64) -> [NewPrice; 6] {
    let [second, five, third, juvenile, grown, female] = CLASSES;
    let price = |class, sex, pack_of, amount_minor| NewPrice { species, class, sex, pack_of, amount_minor };
    let stage = |number| PriceClass::Stage(Stage::Instar(number));
    [
        price(stage(2), PriceSex::Any, 1, second + dearer),
        price(stage(2), PriceSex::Any, 5, five + 4 * dearer),
        price(stage(3), PriceSex::Any, 1, third + dearer),
        price(PriceClass::Size(20, 79), PriceSex::Any, 1, juvenile + dearer),
        price(PriceClass::Size(80, 400), PriceSex::Any, 1, grown + dearer),
        price(PriceClass::Size(80, 400), PriceSex::Female, 1, female + dearer),
    ]
}

/// A few orders that are open today, each with something kept for it.
pub(super) async fn open_today(building: &Building) -> Result<(), AppError> {
    let odile = building.named("odile");
    let mut db = building.app.read().await?;
    let ready = stock::stock(&mut db, building.app.now(), building.app.site().zone).await?;
    let buyers: Vec<_> = store::buyers(&mut db).await?.into_iter().filter(|buyer| buyer.erased_at.is_none()).collect();
    drop(db);
    let mut animals = ready.iter().filter(|item| item.animal.is_some() && item.ready > 0);
    let lots: Vec<&StockItem> = ready.iter().filter(|item| item.cohort.is_some() && item.ready >= 12).collect();
    let plans =
        [(Way::Collection, 2, 5, "collects after six"), (Way::Dispatch, 5, 9, ""), (Way::Collection, 1, 2, "wants them all from one sac")];
    for (place, (way, wanted, kept, note)) in plans.into_iter().enumerate() {
        let Some(buyer) = buyers.get(place) else { break };
        let mut write = building.app.write(Some(odile)).await?;
        let id = orders::insert_order(&mut write, buyer.id, &new_order(building.day, way, wanted, kept, note)).await?;
        if let Some(animal) = animals.next().and_then(|item| item.animal) {
            sale_lines::add(&mut write, Sale::Order(id), Wanted::Animal(animal)).await?;
        }
        if let Some((cohort, stage)) = lots.get(place % lots.len().max(1)).and_then(|lot| Some((lot.cohort?, lot.stage?))) {
            sale_lines::add(&mut write, Sale::Order(id), Wanted::Packs { cohort, stage, packs: 1, pack_of: 5 }).await?;
        }
        write.commit(Change::new("order.made", format!("order {id}"), format!("buyer {}", buyer.id)), paths::ORDERS).await?;
    }
    keep_for_regular(building, &buyers.iter().map(|buyer| buyer.id).collect::<Vec<_>>(), animals.next()).await
}

fn new_order(today: NaiveDate, way: Way, wanted: u64, kept: u64, note: &str) -> NewOrder {
    let ahead = |days| today.checked_add_days(Days::new(days)).unwrap_or(today);
    NewOrder { way, wanted_on: Some(ahead(wanted)), reserve_until: ahead(kept), note: note.to_owned() }
}

/// One animal is kept for somebody who comes by every month.
async fn keep_for_regular(building: &Building, buyers: &[BuyerId], item: Option<&StockItem>) -> Result<(), AppError> {
    let (Some(buyer), Some(animal)) = (buyers.last(), item.and_then(|item| item.animal)) else { return Ok(()) };
    let mut write = building.app.write(Some(building.named("odile"))).await?;
    let until = building.day.checked_add_days(Days::new(3)).unwrap_or(building.day);
    let new = crate::sales::model::NewReservation {
        item: crate::sales::model::Item::Animal(animal),
        keeper: crate::sales::model::Keeper { buyer: Some(*buyer), ..Default::default() },
        until,
        note: "asked for by telephone".to_owned(),
    };
    let id = store::reserved::reserve(&mut write, &new).await?;
    write.commit(Change::new("reservation.made", format!("reservation {id}"), format!("for buyer {buyer}")), paths::RESERVATIONS).await
}

/// Prices what the list had no price for, so that every handover has its receipt: somebody names one at the counter.
pub(super) async fn name_prices(write: &mut Write, handover: crate::house::ids::HandoverId) -> Result<(), AppError> {
    if store::require_handover(write.db(), handover).await?.state != HandoverState::Draft {
        return Ok(());
    }
    let lines = sale_lines::sale_lines(write.db(), Sale::Handover(handover)).await?;
    let changes: Vec<sale_lines::LineChange> = lines
        .iter()
        .filter(|line| line.unit_minor.is_none())
        .map(|line| sale_lines::LineChange {
            id: line.id,
            packs: None,
            unit_minor: Some(if line.animal_id.is_some() { 4500 } else { 1500 }),
        })
        .collect();
    if changes.is_empty() { Ok(()) } else { sale_lines::change_lines(write, Sale::Handover(handover), &changes).await.map(drop) }
}
