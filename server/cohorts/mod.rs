//! Cohorts: spiderlings counted together, and the ledger of their counts.

pub mod counts;
pub mod model;
mod pages;
pub mod store;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/cohorts", May::Member, pages::list::list)
        .get("/cohorts/new", May::Keep, pages::bought::new_batch)
        .post("/cohorts/new", May::Keep, pages::bought::create_batch)
        .get("/cohorts/{cohort}", May::Member, pages::cohort::cohort)
        .get("/cohorts/{cohort}/labels", May::Member, pages::labels::labels)
        .get("/cohorts/{cohort}/recounted", May::Keep, pages::recount::show)
        .post("/cohorts/{cohort}/recounted", May::Keep, pages::recount::save)
        .get("/cohorts/{cohort}/lines/{line}/taken-back", May::Keep, pages::take_back::show)
        .post("/cohorts/{cohort}/lines/{line}/taken-back", May::Keep, pages::take_back::save)
        .get("/cohorts/{cohort}/{deed}", May::Keep, pages::deed::show)
        .post("/cohorts/{cohort}/{deed}", May::Keep, pages::deed::save)
}
