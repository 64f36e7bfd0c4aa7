//! Care-sheet texts: their revisions, and which one a sheet is printed with.

mod starter;

use sqlx::SqliteConnection;

pub use starter::{bring_texts, seed_texts};

use crate::house::errors::AppError;
use crate::house::ids::{CareTextId, MemberId, SpeciesId};
use crate::house::write::Write;
use crate::reckoning::language::Language;
use crate::species::model::text::{CareText, CareTextLine, ChosenText, Sections, TextFigures, TextState};

/// One revision.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_text(db: &mut SqliteConnection, id: CareTextId) -> Result<CareText, AppError> {
    Ok(sqlx::query_as(
        "SELECT care_text.*, author.name AS author, reviewer.name AS reviewer
         FROM care_text LEFT JOIN member AS author ON author.id = care_text.author_id
         LEFT JOIN member AS reviewer ON reviewer.id = care_text.reviewer_id
         WHERE care_text.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// Every revision of a species' texts, by language and the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn texts_of(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<CareTextLine>, AppError> {
    Ok(sqlx::query_as(
        "SELECT care_text.id, species_id, species.accepted_name, language, number, state, author.name AS author, written_on,
                reviewer.name AS reviewer, reviewed_on
         FROM care_text JOIN species ON species.id = care_text.species_id
         LEFT JOIN member AS author ON author.id = care_text.author_id
         LEFT JOIN member AS reviewer ON reviewer.id = care_text.reviewer_id
         WHERE species_id = ? ORDER BY language, number DESC",
    )
    .bind(species)
    .fetch_all(db)
    .await?)
}

/// The revisions of every species that are not behind another: the newest that is printed in each language, and those worked at.
///
/// # Errors
/// The database can't be read.
pub async fn texts_now(db: &mut SqliteConnection) -> Result<Vec<CareTextLine>, AppError> {
    Ok(sqlx::query_as(
        "SELECT care_text.id, species_id, species.accepted_name, language, number, state, author.name AS author, written_on,
                reviewer.name AS reviewer, reviewed_on
         FROM care_text JOIN species ON species.id = care_text.species_id
         LEFT JOIN member AS author ON author.id = care_text.author_id
         LEFT JOIN member AS reviewer ON reviewer.id = care_text.reviewer_id
         WHERE NOT EXISTS (SELECT 1 FROM care_text AS later WHERE later.species_id = care_text.species_id
             AND later.language = care_text.language AND later.number > care_text.number AND later.state IN ('starter', 'reviewed'))
         ORDER BY species.accepted_name, language, number",
    )
    .fetch_all(db)
    .await?)
}

/// The newest revision in exactly this language that sheets are printed with.
///
/// # Errors
/// The database can't be read.
pub async fn printed_text(db: &mut SqliteConnection, species: SpeciesId, language: &Language) -> Result<Option<CareText>, AppError> {
    let id: Option<CareTextId> = sqlx::query_scalar(
        "SELECT id FROM care_text WHERE species_id = ? AND language = ? AND state IN ('starter', 'reviewed') ORDER BY number DESC LIMIT 1",
    )
    .bind(species)
    .bind(language)
    .fetch_optional(&mut *db)
    .await?;
    match id {
        Some(id) => Ok(Some(require_text(db, id).await?)),
        None => Ok(None),
    }
}

/// The revision in this language that is worked at.
///
/// # Errors
/// The database can't be read.
pub async fn open_text(db: &mut SqliteConnection, species: SpeciesId, language: &Language) -> Result<Option<CareText>, AppError> {
    let id: Option<CareTextId> =
        sqlx::query_scalar("SELECT id FROM care_text WHERE species_id = ? AND language = ? AND state IN ('draft', 'sent')")
            .bind(species)
            .bind(language)
            .fetch_optional(&mut *db)
            .await?;
    match id {
        Some(id) => Ok(Some(require_text(db, id).await?)),
        None => Ok(None),
    }
}

/// The language that sheets are printed in unless the buyer reads another.
///
/// # Errors
/// The database can't be read.
pub async fn house_language(db: &mut SqliteConnection) -> Result<Language, AppError> {
    Ok(sqlx::query_scalar("SELECT language FROM site WHERE id = 1").fetch_one(db).await?)
}

/// Sets that language.
///
/// # Errors
/// The database can't be written.
pub async fn set_house_language(write: &mut Write, language: &Language) -> Result<(), AppError> {
    sqlx::query("UPDATE site SET language = ?, version = version + 1 WHERE id = 1").bind(language).execute(write.db()).await?;
    Ok(())
}

/// The text that a sheet for a reader of a language is printed with: the newest that may be printed in it, else in the house's
/// language, else in English, else in any. Without a wish, the house's language is the wish.
///
/// # Errors
/// The database can't be read.
pub async fn text_for(db: &mut SqliteConnection, species: SpeciesId, reader: Option<&Language>) -> Result<ChosenText, AppError> {
    let house = house_language(&mut *db).await?;
    let wished = reader.unwrap_or(&house).clone();
    let mut languages = wished.lookup();
    languages.extend(house.lookup());
    languages.push(Language::english());
    let others: Vec<Language> = sqlx::query_scalar(
        "SELECT DISTINCT language FROM care_text WHERE species_id = ? AND state IN ('starter', 'reviewed') ORDER BY language",
    )
    .bind(species)
    .fetch_all(&mut *db)
    .await?;
    // A text in the reader's language as another country writes it is nearer than one in another language.
    let place = languages.len().min(wished.lookup().len());
    let kin: Vec<Language> = others.iter().filter(|other| other.primary() == wished.primary()).cloned().collect();
    languages.splice(place..place, kin);
    languages.extend(others);
    for language in &languages {
        if let Some(text) = printed_text(&mut *db, species, language).await? {
            return Ok(ChosenText { wished, text: Some(text) });
        }
    }
    Ok(ChosenText { wished, text: None })
}

/// What the fields of a species' texts stand for now.
///
/// # Errors
/// [`AppError::NotFound`] when the species has no profile.
pub async fn text_figures(db: &mut SqliteConnection, species: SpeciesId) -> Result<TextFigures, AppError> {
    let newest = super::newest_profile(&mut *db, species).await?;
    let care = super::care_of_all_stages(&mut *db, newest.id).await?;
    Ok(TextFigures::of(&super::require(db, species).await?, care))
}

/// What was on the screen of whoever writes: the draft with its version, or the number of the newest revision when there was none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// This draft, at this version.
    Draft(CareTextId, i64),
    /// No draft, and this newest number (0 for none at all).
    Newest(i64),
}

/// What is there now, as a form carries it.
///
/// # Errors
/// The database can't be read.
pub async fn seen_now(db: &mut SqliteConnection, species: SpeciesId, language: &Language) -> Result<Seen, AppError> {
    if let Some(open) = open_text(&mut *db, species, language).await? {
        return Ok(Seen::Draft(open.id, open.version));
    }
    let newest = sqlx::query_scalar("SELECT COALESCE(MAX(number), 0) FROM care_text WHERE species_id = ? AND language = ?")
        .bind(species)
        .bind(language)
        .fetch_one(db)
        .await?;
    Ok(Seen::Newest(newest))
}

/// Saves what was written: in the draft that is there, or as a new one. What was sent for review becomes a draft again.
///
/// # Errors
/// A conflict when something else stands there than was on the screen.
pub async fn save_draft(
    write: &mut Write,
    species: SpeciesId,
    language: &Language,
    seen: Seen,
    sections: &Sections,
) -> Result<CareTextId, AppError> {
    if seen_now(write.db(), species, language).await? != seen {
        return Err(AppError::conflict("Somebody else saved this text meanwhile."));
    }
    match seen {
        Seen::Draft(id, _) => {
            update_draft(write, id, sections).await?;
            Ok(id)
        }
        Seen::Newest(number) => insert(write, species, language, (number + 1, TextState::Draft), sections).await,
    }
}

async fn insert(
    write: &mut Write,
    species: SpeciesId,
    language: &Language,
    (number, state): (i64, TextState),
    sections: &Sections,
) -> Result<CareTextId, AppError> {
    let (who, today) = (write.who, write.today);
    Ok(sqlx::query_scalar(
        "INSERT INTO care_text (species_id, language, number, state, author_id, written_on, about, housing, climate, feeding, moulting,
                                safety, help, house)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(species)
    .bind(language)
    .bind(number)
    .bind(state)
    .bind(who)
    .bind(today)
    .bind(&sections.about)
    .bind(&sections.housing)
    .bind(&sections.climate)
    .bind(&sections.feeding)
    .bind(&sections.moulting)
    .bind(&sections.safety)
    .bind(&sections.help)
    .bind(&sections.house)
    .fetch_one(write.db())
    .await?)
}

async fn update_draft(write: &mut Write, id: CareTextId, sections: &Sections) -> Result<(), AppError> {
    let (who, today) = (write.who, write.today);
    sqlx::query(
        "UPDATE care_text SET state = 'draft', author_id = ?, written_on = ?, about = ?, housing = ?, climate = ?, feeding = ?,
                moulting = ?, safety = ?, help = ?, house = ?, version = version + 1
         WHERE id = ?",
    )
    .bind(who)
    .bind(today)
    .bind(&sections.about)
    .bind(&sections.housing)
    .bind(&sections.climate)
    .bind(&sections.feeding)
    .bind(&sections.moulting)
    .bind(&sections.safety)
    .bind(&sections.help)
    .bind(&sections.house)
    .bind(id)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Sends a draft for review.
///
/// # Errors
/// A conflict when it is no draft any more.
pub async fn send_text(write: &mut Write, id: CareTextId) -> Result<(), AppError> {
    let sent = sqlx::query("UPDATE care_text SET state = 'sent', remark = '', version = version + 1 WHERE id = ? AND state = 'draft'")
        .bind(id)
        .execute(write.db())
        .await?;
    changed(sent.rows_affected(), "This text is no draft any more.")
}

/// Gives a text that was sent back to its author, with what is asked for.
///
/// # Errors
/// A conflict when it is not waiting, or not the version that was read.
pub async fn give_back_text(write: &mut Write, id: CareTextId, version: i64, remark: &str) -> Result<(), AppError> {
    let back = sqlx::query(
        "UPDATE care_text SET state = 'draft', remark = ?, version = version + 1 WHERE id = ? AND version = ? AND state = 'sent'",
    )
    .bind(remark)
    .bind(id)
    .bind(version)
    .execute(write.db())
    .await?;
    changed(back.rows_affected(), "This text has changed meanwhile, or is not waiting for a review any more.")
}

/// Notes that whoever writes reviewed a text; from then on sheets are printed with it.
///
/// # Errors
/// A conflict when it is not waiting, not the version that was read, or written by the reviewer while others could review it.
pub async fn review_text(write: &mut Write, id: CareTextId, version: i64) -> Result<(), AppError> {
    let (who, today) = (write.who, write.today);
    let reviewed = sqlx::query(
        "UPDATE care_text SET state = 'reviewed', reviewer_id = ?1, reviewed_on = ?2, version = version + 1,
                alone = EXISTS (SELECT 1 FROM care_text_writer WHERE text_id = care_text.id AND member_id = ?1)
         WHERE id = ?3 AND version = ?4 AND state IN ('sent', 'starter')",
    )
    .bind(who)
    .bind(today)
    .bind(id)
    .bind(version)
    .execute(write.db())
    .await?;
    changed(reviewed.rows_affected(), "This text has changed meanwhile, or is not waiting for a review any more.")
}

/// Throws a draft away. Nothing was printed with it.
///
/// # Errors
/// A conflict when it is no draft, or not the version that was read.
pub async fn discard_text(write: &mut Write, id: CareTextId, version: i64) -> Result<(), AppError> {
    let gone = sqlx::query("DELETE FROM care_text WHERE id = ? AND version = ? AND state IN ('draft', 'sent')")
        .bind(id)
        .bind(version)
        .execute(write.db())
        .await?;
    changed(gone.rows_affected(), "This text has changed meanwhile, or is no draft any more.")
}

fn changed(rows: u64, otherwise: &str) -> Result<(), AppError> {
    if rows == 1 { Ok(()) } else { Err(AppError::conflict(otherwise)) }
}

/// Who may review a text, and whether somebody wrote at it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MayReview {
    /// They wrote none of it.
    Yes,
    /// They wrote at it, and nobody else is there who could review: the sheet says so.
    Alone,
    /// They wrote at it, and others can review it.
    No,
}

/// Whether a member may review a text.
///
/// # Errors
/// The database can't be read.
pub async fn may_review(db: &mut SqliteConnection, id: CareTextId, member: MemberId) -> Result<MayReview, AppError> {
    let (wrote, others): (bool, bool) = sqlx::query_as(
        "SELECT EXISTS (SELECT 1 FROM care_text_writer WHERE text_id = ?1 AND member_id = ?2),
                EXISTS (SELECT 1 FROM member WHERE (is_lead = 1 OR is_owner = 1) AND disabled_at IS NULL AND id <> ?2)",
    )
    .bind(id)
    .bind(member)
    .fetch_one(db)
    .await?;
    Ok(match (wrote, others) {
        (false, _) => MayReview::Yes,
        (true, false) => MayReview::Alone,
        (true, true) => MayReview::No,
    })
}
