//! All SQL of papers: care sheets here, issuing, lists and links below.

mod chain;
mod documents;
mod facts;
mod issue;
mod issued;
mod links;
mod on_demand;
mod settings;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::model::{About, Issued, NewPaper, NewSheet, PaperKind, SheetFacts, Subject, SubjectFacts};
use super::sheet;
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::site::Site;
use crate::house::write::Write;
use crate::species::model::Species;
use crate::species::model::text::{CareText, ChosenText};
use crate::species::store::texts;

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

/// Issues the care sheet of a handover's line: gathers what it says, freezes the bytes, and makes the buyer's link. It is in the
/// buyer's language as far as that is there.
///
/// # Errors
/// A species without a care profile; a line that has its paper already.
pub async fn issue_care_sheet(write: &mut Write, app: &App, new: &NewSheet) -> Result<Issued, AppError> {
    let (day, at, zone) = (write.today, write.at, write.zone);
    let number = next_number(write, PaperKind::CareSheet).await?;
    let (species, mut subject) = facts::subject(write.db(), new.subject, at, zone).await?;
    // The sheet gives the code that the statement of origin gives.
    subject.source = stated_source(write.db(), new.subject.kin()).await?.source.code;
    let reader = facts::reader(write.db(), new.handover).await?;
    let text = texts::text_for(write.db(), species.id, reader.as_ref()).await?;
    let sheet = gather(write.db(), (number.clone(), day), (species, subject), text).await?;
    let (animal, cohort) = match new.subject {
        Subject::Animal(animal) => (Some(animal), None),
        Subject::Lot { cohort, .. } => (None, Some(cohort)),
    };
    let paper = NewPaper {
        kind: PaperKind::CareSheet,
        number,
        about: About { handover: Some(new.handover), line: Some(new.line), animal, cohort, ..About::default() },
        profile: Some(sheet.care.first().ok_or(AppError::NotFound)?.profile_id),
        language: sheet.wording().language.code().to_owned(),
        title: sheet.title(),
        body: sheet::render(&sheet).map_err(anyhow::Error::from)?,
        person: None,
        link: true,
    };
    freeze(write, app, paper).await
}

/// Everything that a sheet says.
async fn gather(
    db: &mut SqliteConnection,
    (number, day): (String, NaiveDate),
    (species, subject): (Species, SubjectFacts),
    text: ChosenText,
) -> Result<SheetFacts, AppError> {
    let site = Site::read(&mut *db).await?;
    Ok(SheetFacts {
        house: site.name,
        address: site.address.lines().map(str::to_owned).collect(),
        number,
        revision: FIRST_REVISION,
        day,
        common_name: facts::common_name(&mut *db, species.id).await?,
        care: facts::care_from(&mut *db, species.id, subject.life_stage).await?,
        listings: crate::species::store::listings(&mut *db, species.id).await?,
        figures: texts::text_figures(db, species.id).await?,
        house_language: site.language,
        specimen: false,
        species,
        subject,
        text,
    })
}

/// A sheet of no animal, as it would be shown on a day with a text that need not be saved: to see how the text prints.
///
/// # Errors
/// A species without a care profile.
pub async fn specimen(db: &mut SqliteConnection, text: &CareText, day: NaiveDate) -> Result<String, AppError> {
    let species = crate::species::store::require(&mut *db, text.species_id).await?;
    let subject = SubjectFacts::of_nobody(&species, day);
    let chosen = ChosenText { wished: text.language.clone(), text: Some(text.clone()) };
    let sheet = gather(db, ("S-0000-0000".to_owned(), day), (species, subject), chosen).await?;
    let document = sheet::render(&SheetFacts { specimen: true, ..sheet }).map_err(anyhow::Error::from)?;
    Ok(super::shown::styled(&document))
}
