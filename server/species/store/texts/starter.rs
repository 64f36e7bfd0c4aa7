//! The starter texts of care sheets: how they, and the starter library with them, come into a book.

use sqlx::SqliteConnection;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::SpeciesId;
use crate::house::write::Write;
use crate::reckoning::language::Language;
use crate::species::model::text::Sections;
use crate::species::texts::{StarterTexts, library};

/// Puts the starter texts into the book, for every species of the library that has no text in the language yet. Gives how many.
///
/// # Errors
/// The database can't be written.
pub async fn seed_texts(write: &mut Write) -> Result<usize, AppError> {
    let mut added = 0;
    for texts in library().map_err(anyhow::Error::from)? {
        for (species, name) in without_text(write.db(), &texts.language).await? {
            if let Some(sections) = sections_of(&texts, &name) {
                insert_starter(write, species, &texts, sections).await?;
                added += 1;
            }
        }
    }
    Ok(added)
}

fn sections_of<'a>(texts: &'a StarterTexts, name: &str) -> Option<&'a Sections> {
    texts.texts.iter().find(|text| text.species.eq_ignore_ascii_case(name)).map(|text| &text.sections)
}

async fn without_text(db: &mut SqliteConnection, language: &Language) -> Result<Vec<(SpeciesId, String)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, accepted_name FROM species
         WHERE NOT EXISTS (SELECT 1 FROM care_text WHERE care_text.species_id = species.id AND care_text.language = ?) ORDER BY id",
    )
    .bind(language)
    .fetch_all(db)
    .await?)
}

async fn insert_starter(write: &mut Write, species: SpeciesId, texts: &StarterTexts, sections: &Sections) -> Result<(), AppError> {
    // A book whose day is before that on which they were written, as the made-up house's is, takes its own day.
    let written_on = texts.written_on.min(write.today);
    sqlx::query(
        "INSERT INTO care_text (species_id, language, number, state, written_on, about, housing, climate, feeding, moulting, safety, help,
                                house)
         VALUES (?, ?, 1, 'starter', ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(species)
    .bind(&texts.language)
    .bind(written_on)
    .bind(&sections.about)
    .bind(&sections.housing)
    .bind(&sections.climate)
    .bind(&sections.feeding)
    .bind(&sections.moulting)
    .bind(&sections.safety)
    .bind(&sections.help)
    .bind(&sections.house)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Brings the starter texts into a book that was there before them, and the whole starter library into one that has no species
/// yet. A second time it finds nothing to do.
///
/// # Errors
/// The database can't be written.
pub async fn bring_texts(app: &App) -> Result<usize, AppError> {
    let mut write = app.write(None).await?;
    let begun: bool = sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM species)").fetch_one(write.db()).await?;
    if !begun {
        let added = crate::species::store::seed_library(&mut write).await?;
        let change = Change::new("species.seeded", "house", format!("{added} species with their texts"));
        write.commit(change, crate::house::paths::SPECIES).await?;
        return Ok(added);
    }
    let added = seed_texts(&mut write).await?;
    if added > 0 {
        let change = Change::new("care-text.seeded", "house", format!("{added} starter texts"));
        write.commit(change, crate::house::paths::CARE_TEXTS).await?;
    }
    Ok(added)
}
