//! Breeding: pairings and egg sacs, up to the day a sac is opened.

pub mod model;
mod pages;
pub mod store;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/breeding", May::Member, pages::list::list)
        .get("/breeding/planned", May::Member, pages::planned::planned)
        .get("/breeding/pairings/new", May::Keep, pages::pairing::new_pairing)
        .post("/breeding/pairings/new", May::Keep, pages::pairing::create_pairing)
        .get("/breeding/sacs/new", May::Keep, pages::new_sac::new_sac)
        .post("/breeding/sacs/new", May::Keep, pages::new_sac::create_sac)
        .get("/breeding/sacs/{sac}", May::Member, pages::sac::sac)
        .get("/breeding/sacs/{sac}/pulled", May::Keep, pages::pull::show)
        .post("/breeding/sacs/{sac}/pulled", May::Keep, pages::pull::save)
        .get("/breeding/sacs/{sac}/opened", May::Keep, pages::open::show)
        .post("/breeding/sacs/{sac}/opened", May::Keep, pages::open::save)
        .get("/breeding/sacs/{sac}/failed", May::Keep, pages::fail::show)
        .post("/breeding/sacs/{sac}/failed", May::Keep, pages::fail::save)
}
