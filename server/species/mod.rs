//! Species: what each kind of tarantula is called, how it lives, what it can do to a person, and its care.

pub mod model;
pub mod names;
mod pages;
pub mod starter;
pub mod store;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/species", May::Member, pages::list)
        .get("/species/new", May::Lead, pages::add)
        .post("/species/new", May::Lead, pages::create)
        .get("/species/{species}", May::Member, pages::species)
        .get("/species/profiles/{profile}", May::Member, pages::profile)
        .get("/species/{species}/rules", May::Lead, pages::edit_rules)
        .post("/species/{species}/rules", May::Lead, pages::save_rules)
        .get("/species/{species}/care/{stage}", May::Lead, pages::edit_care)
        .post("/species/{species}/care/{stage}", May::Lead, pages::save_care)
}
