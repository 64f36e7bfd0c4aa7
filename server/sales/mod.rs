//! Sales: buyers and handovers. Everything here is for those who hand animals over: it holds buyers' names and addresses.

pub mod model;
mod pages;
pub mod store;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/handovers", May::Sell, pages::list)
        .get("/handovers/new", May::Sell, pages::new_handover)
        .post("/handovers/new", May::Sell, pages::create_handover)
        .get("/handovers/{handover}", May::Sell, pages::handover)
        .post("/handovers/{handover}/animals", May::Sell, pages::add_animal)
        .post("/handovers/{handover}/lots", May::Sell, pages::add_lot)
        .post("/handovers/{handover}/lines/{line}/remove", May::Sell, pages::remove_line)
        .post("/handovers/{handover}/hand-over", May::Sell, pages::hand_over)
        .post("/handovers/{handover}/cancel", May::Sell, pages::cancel)
        .get("/handovers/{handover}/papers", May::Sell, pages::papers)
        .and(outings())
        .and(road())
        .get("/buyers/{buyer}", May::Sell, pages::buyer)
        .get("/buyers/{buyer}/edit", May::Sell, pages::edit_buyer)
        .post("/buyers/{buyer}/edit", May::Sell, pages::change_buyer)
}

/// Days on which stock is taken along to sell.
fn outings() -> Routes {
    Routes::new()
        .get("/outings", May::Sell, pages::outings)
        .get("/outings/new", May::Sell, pages::new_outing)
        .post("/outings/new", May::Sell, pages::create_outing)
        .get("/outings/{outing}", May::Sell, pages::outing)
        .post("/outings/{outing}/animals", May::Sell, pages::take_animal)
        .post("/outings/{outing}/lots", May::Sell, pages::take_lot)
        .get("/outings/{outing}/pack", May::Sell, pages::pack)
        .post("/outings/{outing}/pack", May::Sell, pages::scan)
        .post("/outings/{outing}/unpack", May::Sell, pages::unpack)
        .post("/outings/{outing}/go", May::Sell, pages::go)
        .post("/outings/{outing}/cancel", May::Sell, pages::cancel_outing)
        .get("/outings/{outing}/sell", May::Sell, pages::sell)
        .post("/outings/{outing}/sell", May::Sell, pages::begin_sale)
        .get("/outings/{outing}/back", May::Sell, pages::back)
        .post("/outings/{outing}/back", May::Sell, pages::reconcile)
}

/// What is sent, how it arrives, and what comes back.
fn road() -> Routes {
    Routes::new()
        .get("/dispatch", May::Sell, pages::dispatch)
        .get("/dispatch/rules", May::Lead, pages::rules)
        .post("/dispatch/rules", May::Lead, pages::change_rules)
        .get("/handovers/{handover}/journey", May::Sell, pages::journey)
        .post("/handovers/{handover}/journey", May::Sell, pages::plan_journey)
        .post("/handovers/{handover}/collect", May::Sell, pages::collect)
        .get("/handovers/{handover}/arrival", May::Sell, pages::arrival)
        .post("/handovers/{handover}/arrival", May::Sell, pages::record_arrival)
        .get("/handovers/{handover}/return", May::Sell, pages::returned)
        .post("/handovers/{handover}/return", May::Sell, pages::take_back)
}
