//! Papers of the made-up house beside those that go with handovers: what stands on file, what a lead stated, settings, labels and cards.

use chrono::Days;

use super::Building;
use super::stock::Stock;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::AnimalId;
use crate::papers::model::{DocumentKind, Kin, NewDocument, NewStatement, PaperSettings};
use crate::papers::store::{self, NewLabels};
use crate::reckoning::captive_code::Grounds;

/// Species whose founders have papers of their own in the folder, beside what was noted when they came.
const LISTED: [&str; 3] = ["Brachypelma hamorii", "Tliltocatl albopilosus", "Poecilotheria regalis"];

/// What a lead entered on the first day.
pub(super) async fn settle(building: &mut Building, stock: &Stock) -> Result<(), AppError> {
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    let settings = store::settings(write.db()).await?;
    let named = PaperSettings {
        registration: "Upper Marsh breeding register 31 (made up)".to_owned(),
        telephone: "+49 30 5550142 (made up)".to_owned(),
        ..settings
    };
    store::update_settings(&mut write, &named).await?;
    let text = "Made up: ask the town hall before you keep spiders of band 3.";
    store::add_law_place(&mut write, "Lower Marsh", text).await?;
    for species in LISTED {
        let Some((id, _)) = stock.kind(species) else { continue };
        let new = NewStatement {
            species: *id,
            line: String::new(),
            grounds: Grounds::Managed,
            why: "Unrelated pairs of captive-bred founders, whose broods grew up and bred at their breeders' (made up).".to_owned(),
        };
        store::add_statement(&mut write, &new).await?;
    }
    write.commit(Change::new("paper-settings.changed", "papers", "settings, a note on law, statements"), "/papers/settings").await
}

/// What stands on file at the end, and the newest labels and cards.
pub(super) async fn finish(building: &mut Building, stock: &Stock) -> Result<(), AppError> {
    let pairs: Vec<AnimalId> =
        LISTED.iter().filter_map(|species| stock.pairs.get(species)).flatten().flat_map(|(dam, sire)| [*dam, *sire]).collect();
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    for (number, animal) in (101..).zip(pairs) {
        let new = NewDocument {
            kin: Kin::Animal(animal),
            kind: DocumentKind::Declaration,
            number: format!("B-{number}"),
            issuer: "a breeder of the next county (made up)".to_owned(),
            dated_on: building.first.checked_sub_days(Days::new(20)).unwrap_or(building.first),
            note: String::new(),
        };
        store::add_document(&mut write, &new).await?;
    }
    let cohorts = crate::sales::store::offers(write.db(), building.day, crate::sales::model::Keeper::default()).await?;
    let sheets = store::label_sheets(write.db()).await?;
    if let (Some(offer), Some(sheet)) = (cohorts.first(), sheets.first()) {
        let labels = NewLabels { cohort: offer.cohort_id, sheet: sheet.id, start: 1, count: None, stage: None };
        store::issue_vial_labels(&mut write, &building.app, &labels).await?;
    }
    if let Some(animal) = stock.lives.keys().next() {
        store::issue_rehouse_card(&mut write, &building.app, *animal).await?;
    }
    write.commit(Change::new("document.added", "papers", "founders' declarations, labels, a card"), "/papers/provenance").await
}
