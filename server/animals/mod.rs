//! Animals: one tagged individual each, with what happened to it and where it stands.

pub mod model;
mod pages;
pub mod store;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/animals", May::Member, pages::list)
        .get("/t/{tag}", May::Member, pages::by_tag)
        .get("/animals/new", May::Keep, pages::add)
        .post("/animals/new", May::Keep, pages::save_added)
        .get("/animals/forecasts", May::Member, pages::forecasts)
        .get("/animals/forecasts.csv", May::Member, pages::forecasts_csv)
        .get("/animals/{animal}", May::Member, pages::show)
        .get("/animals/{animal}/growth.csv", May::Member, pages::growth_csv)
        .get("/animals/{animal}/moults.csv", May::Member, pages::moults_csv)
        .get("/animals/{animal}/moulted", May::Keep, pages::moulted)
        .post("/animals/{animal}/moulted", May::Keep, pages::save_moulted)
        .get("/animals/{animal}/measured", May::Keep, pages::measured)
        .post("/animals/{animal}/measured", May::Keep, pages::save_measured)
        .get("/animals/{animal}/condition", May::Keep, pages::condition)
        .post("/animals/{animal}/condition", May::Keep, pages::save_condition)
        .get("/animals/{animal}/fed", May::Keep, pages::fed)
        .post("/animals/{animal}/fed", May::Keep, pages::save_fed)
        .get("/animals/{animal}/cleared", May::Keep, pages::cleared)
        .post("/animals/{animal}/cleared", May::Keep, pages::save_cleared)
        .get("/animals/{animal}/moved", May::Keep, pages::moved)
        .post("/animals/{animal}/moved", May::Keep, pages::save_moved)
        .get("/animals/{animal}/sexed", May::Keep, pages::sexed)
        .post("/animals/{animal}/sexed", May::Keep, pages::save_sexed)
        .get("/animals/{animal}/held-back", May::Keep, pages::held_back)
        .post("/animals/{animal}/held-back", May::Keep, pages::save_held_back)
        .get("/animals/{animal}/released", May::Lead, pages::released)
        .post("/animals/{animal}/released", May::Lead, pages::save_released)
        .get("/animals/{animal}/left", May::Keep, pages::left)
        .post("/animals/{animal}/left", May::Keep, pages::save_left)
        .get("/animals/{animal}/found", May::Keep, pages::found)
        .post("/animals/{animal}/found", May::Keep, pages::save_found)
        .get("/animals/{animal}/needs-rehouse", May::Keep, pages::needs_rehouse)
        .post("/animals/{animal}/needs-rehouse", May::Keep, pages::save_needs_rehouse)
        .get("/animals/{animal}/edit", May::Keep, pages::edit)
        .post("/animals/{animal}/edit", May::Keep, pages::save_edit)
        .get("/animals/{animal}/entries/{kind}/{entry}/correct", May::Keep, pages::correct)
        .post("/animals/{animal}/entries/{kind}/{entry}/correct", May::Keep, pages::save_correction)
}
