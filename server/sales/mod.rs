//! Sales: buyers and handovers. Everything here is for those who hand animals over: it holds buyers' names and addresses.

mod credit_note;
mod keep;
mod letter;
pub mod model;
mod pages;
mod receipt;
pub mod store;

pub use keep::{Kept, finish, keep, keep_buyers, replay};

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/handovers", May::Sell, pages::list)
        .get("/handovers/new", May::Sell, pages::new_handover)
        .post("/handovers/new", May::Sell, pages::create_handover)
        .get("/handovers/{handover}", May::Sell, pages::handover)
        .post("/handovers/{handover}/add", May::Sell, pages::add)
        // Either half of that form by itself.
        .post("/handovers/{handover}/animals", May::Sell, pages::add)
        .post("/handovers/{handover}/lots", May::Sell, pages::add)
        .post("/handovers/{handover}/prices", May::Sell, pages::change_prices)
        .get("/handovers/{handover}/pack", May::Sell, pages::pack::show)
        .post("/handovers/{handover}/pack", May::Sell, pages::pack::scan)
        .post("/handovers/{handover}/lines/{line}/remove", May::Sell, pages::remove_line)
        .post("/handovers/{handover}/hand-over", May::Sell, pages::hand_over)
        .post("/handovers/{handover}/cancel", May::Sell, pages::cancel)
        .get("/handovers/{handover}/papers", May::Sell, pages::papers)
        .and(order_routes())
        .and(price_routes())
        .and(buyers())
        .and(recalls())
}

/// Whoever sells finds buyers, corrects them and gives them their data. Erasing somebody can't be taken back, so a lead does it; how long
/// buyers are kept is the owner's to say.
fn buyers() -> Routes {
    Routes::new()
        .get("/buyers", May::Sell, pages::list_of_buyers)
        .get("/buyers/new", May::Sell, pages::new_buyer)
        .post("/buyers/new", May::Sell, pages::create_buyer)
        .get("/buyers/data", May::Sell, pages::inventory)
        .get("/buyers/rule", May::Lead, pages::show_rule)
        .post("/buyers/rule", May::Own, pages::change_rule)
        .and(outings())
        .and(road())
        .get("/buyers/{buyer}", May::Sell, pages::buyer)
        .get("/buyers/{buyer}/edit", May::Sell, pages::edit_buyer)
        .post("/buyers/{buyer}/edit", May::Sell, pages::change_buyer)
        .get("/buyers/{buyer}/data.json", May::Sell, pages::json_of_person)
        .get("/buyers/{buyer}/data.csv", May::Sell, pages::csv_of_person)
        .get("/buyers/{buyer}/erase", May::Lead, pages::confirm_erasure)
        .post("/buyers/{buyer}/erase", May::Lead, pages::erase_buyer)
        .get("/buyers/{buyer}/keep", May::Own, pages::keep_longer)
        .post("/buyers/{buyer}/keep", May::Own, pages::keep_buyer)
}

/// A lead decides on a recall; whoever sells writes the letters and notes who was reached.
fn recalls() -> Routes {
    Routes::new()
        .get("/recall", May::Sell, pages::list_of_recalls)
        .get("/recall/new", May::Lead, pages::new_recall)
        .post("/recall/new", May::Lead, pages::create_recall)
        .get("/recall/{recall}", May::Sell, pages::show_recall)
        .post("/recall/{recall}/letters", May::Sell, pages::write_letters)
        .post("/recall/{recall}/buyers/{buyer}", May::Sell, pages::note_outcome)
}

fn order_routes() -> Routes {
    Routes::new()
        .get("/stock", May::Sell, pages::stock::list)
        .get("/reservations", May::Sell, pages::reservations::list)
        .get("/reservations/new", May::Sell, pages::reservations::new)
        .post("/reservations/new", May::Sell, pages::reservations::reserve)
        .post("/reservations/{reservation}/release", May::Sell, pages::reservations::release)
        .get("/orders", May::Sell, pages::orders::list)
        .get("/orders/new", May::Sell, pages::orders::new_order)
        .post("/orders/new", May::Sell, pages::orders::create_order)
        .get("/orders/pick", May::Sell, pages::pick::of_day)
        .get("/orders/{order}", May::Sell, pages::order::order)
        .post("/orders/{order}/add", May::Sell, pages::order::add)
        .post("/orders/{order}/lines", May::Sell, pages::order::change_lines)
        .post("/orders/{order}/lines/{line}/remove", May::Sell, pages::order::remove_line)
        .get("/orders/{order}/edit", May::Sell, pages::orders::edit_order)
        .post("/orders/{order}/edit", May::Sell, pages::orders::change_order)
        .post("/orders/{order}/cancel", May::Sell, pages::order::cancel)
        .post("/orders/{order}/hand-over", May::Sell, pages::order::make_handover)
        .get("/orders/{order}/pick", May::Sell, pages::pick::of_order)
}

fn price_routes() -> Routes {
    Routes::new()
        .get("/prices", May::Sell, pages::prices::list)
        .post("/prices", May::Sell, pages::prices::begin)
        .get("/prices/terms", May::Own, pages::terms::show)
        .post("/prices/terms", May::Own, pages::terms::change)
        .get("/prices/{list}", May::Sell, pages::price_list::show)
        .post("/prices/{list}/add", May::Sell, pages::price_list::add)
        .post("/prices/{list}/change", May::Sell, pages::price_list::change)
        .post("/prices/{list}/publish", May::Sell, pages::price_list::publish)
        .post("/prices/{list}/discard", May::Sell, pages::price_list::discard)
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
        .get("/outings/{outing}/pack", May::Sell, pages::pack_outing)
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
        .get("/handovers/{handover}/credit", May::Sell, pages::credit)
        .post("/handovers/{handover}/credit", May::Sell, pages::issue_credit)
}
