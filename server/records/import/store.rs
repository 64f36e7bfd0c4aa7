//! All SQL of the import.

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use super::Kind;
use super::report::Report;
use crate::house::errors::AppError;
use crate::house::ids::ShelfId;
use crate::house::write::Write;
use crate::reckoning::provenance::SourceCode;
use crate::reckoning::words::{Sex, SexBasis};

/// A shelf with the names that a file calls it by.
#[derive(sqlx::FromRow)]
pub struct NamedShelf {
    pub id: ShelfId,
    pub room: String,
    pub rack: String,
    pub number: i64,
}

/// What the book says of an animal that a file names.
#[derive(sqlx::FromRow)]
pub struct KnownAnimal {
    pub tag: String,
    pub species: String,
    pub sex: Sex,
    pub sex_basis: SexBasis,
    pub born_on: Option<NaiveDate>,
    pub started_on: NaiveDate,
    pub start_instar: Option<i64>,
    pub supplier: String,
    pub papers: String,
    pub source_code: SourceCode,
    pub pre_convention: bool,
    pub locality: String,
    pub shelf_id: Option<ShelfId>,
    pub place: Option<String>,
    pub position: Option<i64>,
    pub note: String,
}

/// What the book says of a cohort that a file names.
#[derive(sqlx::FromRow)]
pub struct KnownCohort {
    pub code: String,
    pub species: String,
    pub started_on: NaiveDate,
    pub supplier: String,
    pub papers: String,
    pub source_code: SourceCode,
    pub pre_convention: bool,
    pub locality: String,
    pub housing: String,
    pub shelf_id: Option<ShelfId>,
    pub place: Option<String>,
    pub note: String,
}

/// Every shelf, by its names.
pub async fn shelves(db: &mut SqliteConnection) -> Result<Vec<NamedShelf>, AppError> {
    Ok(sqlx::query_as("SELECT shelf_id AS id, room_name AS room, rack_name AS rack, shelf_number AS number FROM place")
        .fetch_all(db)
        .await?)
}

/// The animals of some tags (a JSON list).
pub async fn animals(db: &mut SqliteConnection, tags: &str) -> Result<Vec<KnownAnimal>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.tag, species.accepted_name AS species, animal.sex, animal.sex_basis, animal.born_on,
                animal.started_on, animal.start_instar, animal.supplier, animal.papers, animal.source_code, animal.pre_convention,
                animal.locality, animal.shelf_id, place.label AS place, animal.position, animal.note
         FROM animal JOIN species ON species.id = animal.species_id LEFT JOIN place ON place.shelf_id = animal.shelf_id
         WHERE animal.tag IN (SELECT value FROM json_each(?))",
    )
    .bind(tags)
    .fetch_all(db)
    .await?)
}

/// The days on which animals of some tags moulted.
pub async fn moults(db: &mut SqliteConnection, tags: &str) -> Result<Vec<(String, NaiveDate)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.tag, moult_standing.day FROM moult_standing JOIN animal ON animal.id = moult_standing.animal_id
         WHERE animal.tag IN (SELECT value FROM json_each(?))",
    )
    .bind(tags)
    .fetch_all(db)
    .await?)
}

/// The days on which animals of some tags took prey.
pub async fn meals(db: &mut SqliteConnection, tags: &str) -> Result<Vec<(String, NaiveDate)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.tag, meal_standing.day FROM meal_standing JOIN animal ON animal.id = meal_standing.animal_id
         WHERE meal_standing.outcome = 'took' AND animal.tag IN (SELECT value FROM json_each(?))",
    )
    .bind(tags)
    .fetch_all(db)
    .await?)
}

/// The leg spans that animals of some tags have had, mm.
pub async fn spans(db: &mut SqliteConnection, tags: &str) -> Result<Vec<(String, i64)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.tag, measurement_standing.mm FROM measurement_standing JOIN animal ON animal.id = measurement_standing.animal_id
         WHERE measurement_standing.kind = 'dls' AND animal.tag IN (SELECT value FROM json_each(?))",
    )
    .bind(tags)
    .fetch_all(db)
    .await?)
}

/// The cohorts of some codes (a JSON list).
pub async fn cohorts(db: &mut SqliteConnection, codes: &str) -> Result<Vec<KnownCohort>, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort.code, species.accepted_name AS species, cohort.started_on, cohort.supplier, cohort.papers,
                cohort.source_code, cohort.pre_convention, cohort.locality, cohort.housing, cohort.shelf_id, place.label AS place, cohort.note
         FROM cohort JOIN species ON species.id = cohort.species_id LEFT JOIN place ON place.shelf_id = cohort.shelf_id
         WHERE cohort.code IN (SELECT value FROM json_each(?))",
    )
    .bind(codes)
    .fetch_all(db)
    .await?)
}

/// How many came in at which stage on the first day, for the cohorts of some codes.
pub async fn received(db: &mut SqliteConnection, codes: &str) -> Result<Vec<(String, String, i64)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort.code, ledger_line.to_bucket, ledger_line.quantity FROM ledger_line JOIN cohort ON cohort.id = ledger_line.cohort_id
         WHERE ledger_line.kind = 'received' AND cohort.code IN (SELECT value FROM json_each(?))",
    )
    .bind(codes)
    .fetch_all(db)
    .await?)
}

/// When this very file was imported, if it was.
pub async fn imported_before(db: &mut SqliteConnection, kind: Kind, sha256: &str) -> Result<Option<DateTime<Utc>>, AppError> {
    Ok(sqlx::query_scalar("SELECT MIN(at) FROM import_run WHERE kind = ? AND file_sha256 = ?")
        .bind(kind.code())
        .bind(sha256)
        .fetch_one(db)
        .await?)
}

/// Keeps that a file was imported.
pub async fn insert_run(write: &mut Write, report: &Report) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let count = |number: usize| i64::try_from(number).unwrap_or(i64::MAX);
    sqlx::query("INSERT INTO import_run (kind, file_sha256, added, unchanged, member_id, at) VALUES (?, ?, ?, ?, ?, ?)")
        .bind(report.kind.code())
        .bind(&report.file_sha256)
        .bind(count(report.added()))
        .bind(count(report.unchanged()))
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}
