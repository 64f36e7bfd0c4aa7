//! Cohorts: spiderlings counted together, and the ledger of their counts.

pub mod counts;
pub mod model;
mod pages;
pub mod store;

use axum::extract::State;

use crate::house::access::{May, Routes};
use crate::house::app::App;
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::Form;
use crate::house::ids::CohortId;
use pages::deed::{Deed, DeedForm};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/cohorts", May::Member, pages::list::list)
        .get("/cohorts/new", May::Keep, pages::bought::new_batch)
        .post("/cohorts/new", May::Keep, pages::bought::create_batch)
        .get("/cohorts/{cohort}", May::Member, pages::cohort::cohort)
        .get("/cohorts/{cohort}/survival.csv", May::Member, pages::survival::csv)
        .get("/cohorts/{cohort}/losses.csv", May::Member, pages::survival::losses_csv)
        .get("/cohorts/{cohort}/looked-into", May::Keep, pages::losses::show)
        .post("/cohorts/{cohort}/looked-into", May::Keep, pages::losses::save)
        .get("/cohorts/{cohort}/labels", May::Member, pages::labels::labels)
        .get("/cohorts/{cohort}/holdbacks", May::Member, pages::holdbacks::show)
        .post("/cohorts/{cohort}/holdbacks", May::Keep, pages::holdbacks::save)
        .get("/cohorts/{cohort}/scorecard", May::Member, pages::scorecard::show)
        .get("/cohorts/{cohort}/scorecard.csv", May::Member, pages::scorecard::csv)
        .get("/species/{species}/scorecards", May::Member, pages::scorecards::show)
        .get("/species/{species}/scorecards.csv", May::Member, pages::scorecards::csv)
        .get("/cohorts/{cohort}/recounted", May::Keep, pages::recount::show)
        .post("/cohorts/{cohort}/recounted", May::Keep, pages::recount::save)
        .get("/cohorts/{cohort}/lines/{line}/taken-back", May::Keep, pages::take_back::show)
        .post("/cohorts/{cohort}/lines/{line}/taken-back", May::Keep, pages::take_back::save)
        .get("/cohorts/{cohort}/separated", May::Keep, pages::separated::show)
        .post("/cohorts/{cohort}/separated", May::Keep, pages::separated::save)
        .and(deeds())
}

/// A page for each deed, all built alike.
fn deeds() -> Routes {
    let pages = [
        ("/cohorts/{cohort}/moulted", Deed::Moulted),
        ("/cohorts/{cohort}/lost", Deed::Lost),
        ("/cohorts/{cohort}/tagged", Deed::Tagged),
        ("/cohorts/{cohort}/held-back", Deed::Held),
        ("/cohorts/{cohort}/released", Deed::Released),
        ("/cohorts/{cohort}/moved", Deed::Moved),
        ("/cohorts/{cohort}/split", Deed::Split),
    ];
    pages.into_iter().fold(Routes::new(), |routes, (path, deed)| {
        // What is held back for breeding is for a lead to give up.
        let may = if deed == Deed::Released { May::Lead } else { May::Keep };
        routes.get(path, may, move |app: State<App>, me: SignedIn, id: Path<CohortId>| pages::deed::show(app, me, id, deed)).post(
            path,
            may,
            move |app: State<App>, me: SignedIn, id: Path<CohortId>, form: Form<DeedForm>| pages::deed::save(app, me, id, form, deed),
        )
    })
}
