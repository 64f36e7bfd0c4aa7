//! Breeding: pairings and their introductions, the sacs that are waited for, and egg sacs up to the day they are opened.

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
        .get("/breeding/pairings/new", May::Keep, pages::begin::new_pairing)
        .post("/breeding/pairings/new", May::Keep, pages::begin::create_pairing)
        .get("/breeding/pairings/{pairing}", May::Member, pages::pairing::show)
        .get("/breeding/pairings/{pairing}/introduced", May::Keep, pages::introduce::show)
        .post("/breeding/pairings/{pairing}/introduced", May::Keep, pages::introduce::save)
        .get("/breeding/introductions/{introduction}/struck", May::Keep, pages::introduce::confirm)
        .post("/breeding/introductions/{introduction}/struck", May::Keep, pages::introduce::strike)
        .get("/breeding/lines", May::Member, pages::lines::list)
        .get("/breeding/lines/new", May::Lead, pages::line_form::new_line)
        .post("/breeding/lines/new", May::Lead, pages::line_form::create_line)
        .get("/breeding/lines/{line}", May::Member, pages::lines::line)
        .get("/breeding/lines/{line}/edit", May::Lead, pages::line_form::edit_line)
        .post("/breeding/lines/{line}/edit", May::Lead, pages::line_form::save_line)
        .get("/animals/{animal}/line", May::Lead, pages::membership::of_animal)
        .post("/animals/{animal}/line", May::Lead, pages::membership::save_of_animal)
        .get("/cohorts/{cohort}/line", May::Lead, pages::membership::of_cohort)
        .post("/cohorts/{cohort}/line", May::Lead, pages::membership::save_of_cohort)
        .get("/animals/{animal}/lineage", May::Member, pages::lineage::of_animal)
        .get("/animals/{animal}/lineage.csv", May::Member, pages::lineage::csv_of_animal)
        .get("/cohorts/{cohort}/lineage", May::Member, pages::lineage::of_cohort)
        .get("/cohorts/{cohort}/lineage.csv", May::Member, pages::lineage::csv_of_cohort)
        .get("/breeding/kinship", May::Member, pages::kinship::kinship)
        .get("/breeding/kinship.csv", May::Member, pages::kinship::csv)
        .get("/breeding/sacs/new", May::Keep, pages::new_sac::new_sac)
        .post("/breeding/sacs/new", May::Keep, pages::new_sac::create_sac)
        .get("/breeding/sacs/{sac}", May::Member, pages::sac::sac)
        .get("/breeding/sacs/{sac}/log", May::Member, pages::log::log)
        .post("/breeding/sacs/{sac}/log", May::Keep, pages::log::save)
        .get("/breeding/sacs/{sac}/log.csv", May::Member, pages::log::temperature_csv)
        .get("/breeding/sacs/{sac}/warmth.csv", May::Member, pages::log::warmth_csv)
        .post("/breeding/sacs/{sac}/log/{reading}/strike", May::Keep, pages::log::strike)
        .get("/breeding/sacs/{sac}/seen", May::Keep, pages::seen::show)
        .post("/breeding/sacs/{sac}/seen", May::Keep, pages::seen::save)
        .post("/breeding/sacs/{sac}/seen/{seen}/strike", May::Keep, pages::seen::strike)
        .get("/breeding/sacs/{sac}/pulled", May::Keep, pages::pull::show)
        .post("/breeding/sacs/{sac}/pulled", May::Keep, pages::pull::save)
        .get("/breeding/sacs/{sac}/opened", May::Keep, pages::open::show)
        .post("/breeding/sacs/{sac}/opened", May::Keep, pages::open::save)
        .get("/breeding/sacs/{sac}/failed", May::Keep, pages::fail::show)
        .post("/breeding/sacs/{sac}/failed", May::Keep, pages::fail::save)
}
