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
        .get("/buyers/{buyer}", May::Sell, pages::buyer)
        .get("/buyers/{buyer}/edit", May::Sell, pages::edit_buyer)
        .post("/buyers/{buyer}/edit", May::Sell, pages::change_buyer)
}
