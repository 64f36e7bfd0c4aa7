//! What the made-up house did with its care-sheet texts: some starter texts reviewed, one rewritten, one waiting for a review.

use super::Building;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{CareTextId, SpeciesId};
use crate::reckoning::language::Language;
use crate::species::model::text::{CareText, Sections};
use crate::species::names::NameMatch;
use crate::species::store;
use crate::species::store::texts;

/// Species whose starter texts the lead reads on the first day.
const REVIEWED: [&str; 4] = ["Tliltocatl albopilosus", "Brachypelma hamorii", "Grammostola pulchra", "Poecilotheria regalis"];
const OUR_OWN: &str = "Ours were raised on the half-damp side of oak-leaf mould. Keep it that way for the first month, then change slowly.";
const OUR_OWN_GERMAN: &str = "Unsere Tiere wuchsen auf der halb feuchten Seite von Eichenlauberde auf. Halten Sie es im ersten Monat ebenso, dann stellen Sie langsam um.";

async fn printed(building: &Building, name: &str, language: &Language) -> Result<Option<CareText>, AppError> {
    let mut db = building.app.read().await?;
    let NameMatch::Accepted(species) = store::find_name(&mut db, name).await? else { return Ok(None) };
    texts::printed_text(&mut db, species, language).await
}

/// On the first day: the lead reviews the texts of what the house sells most, and the owner one that the lead rewrote.
pub(super) async fn begin(building: &Building) -> Result<(), AppError> {
    let (english, german) = (Language::english(), "de".parse().unwrap_or(Language::english()));
    for name in REVIEWED {
        for language in [&english, &german] {
            if let Some(text) = printed(building, name, language).await? {
                review(building, "tamsin", text.id).await?;
            }
        }
    }
    if let Some(text) = printed(building, "Tliltocatl albopilosus", &english).await? {
        let sent = send(building, &text, OUR_OWN).await?;
        review(building, "ilka", sent).await?;
    }
    Ok(())
}

/// On the last day: a German text waits for somebody else to read it.
pub(super) async fn open_today(building: &Building) -> Result<(), AppError> {
    let german = "de".parse().unwrap_or(Language::english());
    if let Some(text) = printed(building, "Tliltocatl albopilosus", &german).await? {
        send(building, &text, OUR_OWN_GERMAN).await?;
    }
    Ok(())
}

/// The lead writes the next revision of a text, with a word of the house's own, and sends it for review.
async fn send(building: &Building, text: &CareText, own: &str) -> Result<CareTextId, AppError> {
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    let sections = Sections { house: own.to_owned(), ..text.sections.clone() };
    let species: SpeciesId = text.species_id;
    let seen = texts::seen_now(write.db(), species, &text.language).await?;
    let id = texts::save_draft(&mut write, species, &text.language, seen, &sections).await?;
    texts::send_text(&mut write, id).await?;
    write.commit(Change::new("care-text.sent", format!("care text {id}"), text.language.code()), "/species/texts").await?;
    Ok(id)
}

async fn review(building: &Building, who: &str, id: CareTextId) -> Result<(), AppError> {
    let mut write = building.app.write(Some(building.named(who))).await?;
    let text = texts::require_text(write.db(), id).await?;
    texts::review_text(&mut write, id, text.version).await?;
    let change = Change::new("care-text.reviewed", format!("care text {id}"), text.in_words()).from(text.state.code());
    write.commit(change, "/species/texts").await
}
