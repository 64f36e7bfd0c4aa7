//! Issuing papers, and the lists of them.

use sqlx::SqliteConnection;

use super::add_link;
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, BuyerId, CohortId, HandoverId, IncidentId, PaperId};
use crate::house::secrets::sha256_hex;
use crate::house::write::Write;
use crate::papers::model::{Issued, NewPaper, PERSON, Paper, PaperKind, PaperLine, marked, whole};

/// Every paper is issued once; a later issue of the same number would have the next revision.
pub const FIRST_REVISION: i64 = 1;

/// The next number of a kind: its letter, the year, and a number that starts anew each year and leaves no gap. It is the next
/// one only until the write that asked for it ends, so the paper is frozen in the same write.
///
/// # Errors
/// The database can't be read.
pub async fn next_number(write: &mut Write, kind: PaperKind) -> Result<String, AppError> {
    let prefix = format!("{}-{}", kind.letter(), write.today.format("%Y-"));
    let last: i64 = sqlx::query_scalar(
        "SELECT COALESCE(MAX(CAST(substr(number, length(?1) + 1) AS INTEGER)), 0) FROM paper
         WHERE number >= ?1 AND number < ?1 || ':' AND substr(number, 1, length(?1)) = ?1",
    )
    .bind(&prefix)
    .fetch_one(write.db())
    .await?;
    Ok(format!("{prefix}{:04}", last + 1))
}

/// Freezes a paper: its bytes, its fingerprint, the part that names a person, and the buyer's link if it has one. A paper of a
/// handover belongs to that handover's buyer.
///
/// # Errors
/// A number or a line that has its paper of this kind already; a change that nobody makes.
pub async fn freeze(write: &mut Write, app: &App, new: NewPaper) -> Result<Issued, AppError> {
    let person = new.person.as_deref().map(marked);
    if person.is_some() != new.body.contains(PERSON) {
        return Err(AppError::Internal(anyhow::anyhow!("paper {}: the body and the person's part don't belong together", new.number)));
    }
    let fingerprint = sha256_hex(&whole(new.body.as_bytes(), person.as_ref().map(String::as_bytes)));
    let id = insert(write, app, &new, person.is_some(), &fingerprint).await?;
    if let Some(part) = person {
        sqlx::query("INSERT INTO paper_person (paper_id, part) VALUES (?, ?)").bind(id).bind(part.into_bytes()).execute(write.db()).await?;
    }
    if new.link {
        add_link(write, app, id).await?;
    }
    Ok(Issued { id, number: new.number, fingerprint })
}

async fn insert(write: &mut Write, app: &App, new: &NewPaper, names_person: bool, fingerprint: &str) -> Result<PaperId, AppError> {
    let (who, at, day) = (write.who, write.at, write.today);
    Ok(sqlx::query_scalar(
        "INSERT INTO paper (number, revision, kind, language, handover_id, handover_line_id, buyer_id, animal_id, cohort_id, incident_id,
                            profile_id, title, body, names_person, fingerprint, link_base, issued_at, issued_on, issued_by)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, COALESCE(?7, (SELECT buyer_id FROM handover WHERE id = ?5)), ?8, ?9, ?10, ?11, ?12, ?13, ?14,
                 ?15, ?16, ?17, ?18, ?19) RETURNING id",
    )
    .bind(&new.number)
    .bind(FIRST_REVISION)
    .bind(new.kind)
    .bind(&new.language)
    .bind(new.about.handover)
    .bind(new.about.line)
    .bind(new.about.buyer)
    .bind(new.about.animal)
    .bind(new.about.cohort)
    .bind(new.about.incident)
    .bind(new.profile)
    .bind(&new.title)
    .bind(new.body.as_bytes())
    .bind(names_person)
    .bind(fingerprint)
    .bind(&app.config.public_url)
    .bind(at)
    .bind(day)
    .bind(who)
    .fetch_one(write.db())
    .await?)
}

/// One paper.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: PaperId) -> Result<Paper, AppError> {
    Ok(sqlx::query_as("SELECT * FROM paper_whole WHERE id = ?").bind(id).fetch_one(db).await?)
}

/// The paper of a number.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_by_number(db: &mut SqliteConnection, number: &str) -> Result<Paper, AppError> {
    Ok(sqlx::query_as("SELECT * FROM paper_whole WHERE number = ?").bind(number).fetch_one(db).await?)
}

/// The papers of a handover, in the order they were issued.
///
/// # Errors
/// The database can't be read.
pub async fn of_handover(db: &mut SqliteConnection, id: HandoverId) -> Result<Vec<PaperLine>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM paper_listed WHERE handover_id = ? ORDER BY id").bind(id).fetch_all(db).await?)
}

/// The papers of a buyer, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn of_buyer(db: &mut SqliteConnection, id: BuyerId) -> Result<Vec<PaperLine>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM paper_listed WHERE buyer_id = ? ORDER BY id DESC").bind(id).fetch_all(db).await?)
}

/// The papers of an animal, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn of_animal(db: &mut SqliteConnection, id: AnimalId) -> Result<Vec<PaperLine>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM paper_listed WHERE animal_id = ? ORDER BY id DESC").bind(id).fetch_all(db).await?)
}

/// The papers of a cohort, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn of_cohort(db: &mut SqliteConnection, id: CohortId) -> Result<Vec<PaperLine>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM paper_listed WHERE cohort_id = ? ORDER BY id DESC").bind(id).fetch_all(db).await?)
}

/// The papers of an incident, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn of_incident(db: &mut SqliteConnection, id: IncidentId) -> Result<Vec<PaperLine>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM paper_listed WHERE incident_id = ? ORDER BY id DESC").bind(id).fetch_all(db).await?)
}
