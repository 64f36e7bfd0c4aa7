//! Papers: everything that is issued, the buyer's way to it, and what stands behind it: papers on file, statements, settings.

mod box_label;
pub mod frame;
mod incident_report;
pub mod model;
mod note;
mod origin;
mod pages;
mod person;
mod rehouse_card;
mod risk;
mod sheet;
mod shown;
pub mod store;
mod vial_labels;
pub mod wording;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/papers/{paper}", May::Sell, pages::for_staff)
        .post("/papers/{paper}/revoke", May::Sell, pages::revoke)
        .post("/papers/{paper}/link", May::Sell, pages::new_link)
        .get("/papers/of-house/{paper}", May::Member, pages::for_house)
        .get("/papers/pages/{size}", May::Member, pages::page_style)
        .get("/papers/provenance", May::Member, pages::provenance)
        .get("/papers/documents/new", May::Lead, pages::new_document)
        .post("/papers/documents/new", May::Lead, pages::add_document)
        .get("/papers/documents/{document}/strike", May::Lead, pages::confirm_strike)
        .post("/papers/documents/{document}/strike", May::Lead, pages::strike_document)
        .get("/papers/stock-statements", May::Member, pages::statements)
        .post("/papers/stock-statements", May::Lead, pages::add_statement)
        .get("/papers/stock-statements/{statement}/withdraw", May::Lead, pages::confirm_withdrawal)
        .post("/papers/stock-statements/{statement}/withdraw", May::Lead, pages::withdraw_statement)
        .get("/papers/settings", May::Lead, pages::settings)
        .post("/papers/settings", May::Lead, pages::save_settings)
        .post("/papers/settings/places", May::Lead, pages::add_place)
        .post("/papers/settings/places/{place}/retire", May::Lead, pages::retire_place)
        .get("/papers/label-sheets", May::Keep, pages::label_sheets)
        .post("/papers/label-sheets", May::Keep, pages::add_label_sheet)
        .post("/papers/label-sheets/{sheet}/retire", May::Keep, pages::retire_label_sheet)
        .get("/papers/vial-labels/{cohort}", May::Keep, pages::new_vial_labels)
        .post("/papers/vial-labels/{cohort}", May::Keep, pages::vial_labels)
        .post("/papers/rehouse-cards/{animal}", May::Keep, pages::rehouse_card)
        .post("/papers/incident-reports/{incident}", May::Member, pages::incident_report)
        .post("/papers/box-labels/{handover}", May::Sell, pages::box_label)
        .get("/verify", May::Anybody, pages::ask_verify)
        .get("/verify/{number}/{fingerprint}", May::Anybody, pages::verify)
        .get("/sheet/{token}", May::Anybody, pages::for_buyer)
        .get("/sheet/{token}/original", May::Anybody, pages::original)
}
