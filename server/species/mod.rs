//! Species: what each kind of tarantula is called, how it lives, what it can do to a person, and its care.

pub mod model;
pub mod names;
mod pages;
pub mod starter;
pub mod store;
pub mod texts;

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
        .get("/species/texts", May::Lead, pages::text::overview)
        .post("/species/texts/language", May::Lead, pages::text::set_language)
        .get("/species/texts/{text}", May::Lead, pages::text::revision)
        .get("/species/texts/{text}/sheet", May::Lead, pages::text::sheet_of_revision)
        .post("/species/texts/{text}/review", May::Lead, pages::text::review)
        .post("/species/texts/{text}/give-back", May::Lead, pages::text::give_back)
        .post("/species/texts/{text}/discard", May::Lead, pages::text::discard)
        .get("/species/{species}/text", May::Lead, pages::text::of_species)
        .get("/species/{species}/text/{language}", May::Lead, pages::text::edit)
        .post("/species/{species}/text/{language}", May::Lead, pages::text::save)
        .post("/species/{species}/text/{language}/preview", May::Lead, pages::text::preview)
        .post("/species/{species}/text/{language}/sheet", May::Lead, pages::text::sheet_preview)
        .get("/species/{species}/care/{stage}", May::Lead, pages::edit_care)
        .post("/species/{species}/care/{stage}", May::Lead, pages::save_care)
}
