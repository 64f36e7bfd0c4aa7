//! All SQL of papers: care sheets here, issuing, lists and links below.

mod chain;
mod documents;
mod facts;
mod issue;
mod issued;
mod links;
mod on_demand;
mod settings;

use super::model::{About, Issued, NewPaper, NewSheet, PaperKind, SheetFacts, Subject};
use super::sheet;
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::site::Site;
use crate::house::write::Write;

pub use chain::{asked, missing_papers, provenance, stated_source};
pub use documents::{
    add_document, add_statement, document_kin, documents_of, grounds_for, statement_for, statements, strike_document, withdraw_statement,
};
pub use issue::issue_for_handover;
pub use issued::{
    FIRST_REVISION, freeze, next_number, of_animal, of_buyer, of_cohort, of_handover, of_incident, require, require_by_number,
};
pub use links::{add_link, find_by_token, revoke_links};
pub use on_demand::{MOST_LABELS, NewLabels, is_listed, issue_box_label, issue_incident_report, issue_rehouse_card, issue_vial_labels};
pub use settings::{
    add_label_sheet, add_law_place, label_sheets, law_places, record_risk_shown, require_label_sheet, retire_label_sheet, retire_law_place,
    risk_shown, risk_to_show, settings, update_settings,
};

/// Issues the care sheet of a handover's line: gathers what it says, freezes the bytes, and makes the buyer's link.
///
/// # Errors
/// A species without a care profile; a line that has its paper already.
pub async fn issue_care_sheet(write: &mut Write, app: &App, new: &NewSheet) -> Result<Issued, AppError> {
    let (day, at, zone) = (write.today, write.at, write.zone);
    let number = next_number(write, PaperKind::CareSheet).await?;
    let site = Site::read(write.db()).await?;
    let (species, mut subject) = facts::subject(write.db(), new.subject, at, zone).await?;
    // The sheet gives the code that the statement of origin gives.
    subject.source = stated_source(write.db(), new.subject.kin()).await?.source.code;
    let sheet = SheetFacts {
        house: site.name,
        address: site.address.lines().map(str::to_owned).collect(),
        number: number.clone(),
        revision: FIRST_REVISION,
        day,
        common_name: facts::common_name(write.db(), species.id).await?,
        care: facts::care_from(write.db(), species.id, subject.life_stage).await?,
        listings: crate::species::store::listings(write.db(), species.id).await?,
        species,
        subject,
    };
    let (animal, cohort) = match new.subject {
        Subject::Animal(animal) => (Some(animal), None),
        Subject::Lot { cohort, .. } => (None, Some(cohort)),
    };
    let paper = NewPaper {
        kind: PaperKind::CareSheet,
        number,
        about: About { handover: Some(new.handover), line: Some(new.line), animal, cohort, ..About::default() },
        profile: Some(sheet.care.first().ok_or(AppError::NotFound)?.profile_id),
        language: "en".to_owned(),
        title: sheet.title(),
        body: sheet::render(&sheet)?,
        person: None,
        link: true,
    };
    freeze(write, app, paper).await
}
