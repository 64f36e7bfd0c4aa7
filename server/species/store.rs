//! All SQL of species, their names, listings and care profiles.

mod care;
pub mod climate;
pub mod texts;

use sqlx::SqliteConnection;

use super::model::{Listing, OtherName, Species, SpeciesInHouse, SpeciesLine, Stock};
use super::names::{KnownName, NameKind, NameMatch, find};
use super::starter::{StarterName, StarterSpecies, library};
use crate::house::errors::AppError;
use crate::house::ids::SpeciesId;
use crate::house::write::Write;
use crate::reckoning::breeding::SacGroup;
use crate::reckoning::moult::learn::UsualRanges;
use crate::reckoning::words::LifeStage;

pub use care::{
    CareBook, care, care_book, care_in, care_of_all_stages, insert_profile, newest_profile, profiles, require_profile, rules_in, rules_now,
};

/// One species.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: SpeciesId) -> Result<Species, AppError> {
    Ok(sqlx::query_as("SELECT * FROM species WHERE id = ?").bind(id).fetch_one(db).await?)
}

/// Every species, by name.
///
/// # Errors
/// The database can't be read.
pub async fn all(db: &mut SqliteConnection) -> Result<Vec<SpeciesLine>, AppError> {
    Ok(sqlx::query_as("SELECT id, accepted_name, venom FROM species ORDER BY accepted_name").fetch_all(db).await?)
}

/// Every species with how much of it stands in the house, by name.
///
/// # Errors
/// The database can't be read.
pub async fn in_house(db: &mut SqliteConnection) -> Result<Vec<SpeciesInHouse>, AppError> {
    Ok(sqlx::query_as(
        "SELECT species.*,
                (SELECT COUNT(*) FROM animal WHERE animal.species_id = species.id AND animal.status = 'alive') AS animals,
                (SELECT COALESCE(SUM(ledger_balance.quantity), 0)
                 FROM cohort JOIN ledger_balance ON ledger_balance.cohort_id = cohort.id JOIN bucket ON bucket.code = ledger_balance.bucket
                 WHERE cohort.species_id = species.id AND bucket.kind = 'stage') AS spiderlings
         FROM species ORDER BY accepted_name",
    )
    .fetch_all(db)
    .await?)
}

/// Every name that the house knows, to search in many times.
///
/// # Errors
/// The database can't be read.
pub async fn known_names(db: &mut SqliteConnection) -> Result<Vec<KnownName>, AppError> {
    let accepted: Vec<(SpeciesId, String)> = sqlx::query_as("SELECT id, accepted_name FROM species").fetch_all(&mut *db).await?;
    let others: Vec<(SpeciesId, String, NameKind, Option<String>)> =
        sqlx::query_as("SELECT species_id, name, kind, ambiguous_with FROM species_name").fetch_all(db).await?;
    let accepted =
        accepted.into_iter().map(|(species_id, name)| KnownName { species_id, name, kind: NameKind::Accepted, ambiguous_note: None });
    let others = others.into_iter().map(|(species_id, name, kind, ambiguous_note)| KnownName { species_id, name, kind, ambiguous_note });
    Ok(accepted.chain(others).collect())
}

/// Whose name was typed. An ambiguous one is never mapped.
///
/// # Errors
/// The database can't be read.
pub async fn find_name(db: &mut SqliteConnection, typed: &str) -> Result<NameMatch, AppError> {
    Ok(find(typed, &known_names(db).await?))
}

/// A species' former, trade and common names.
///
/// # Errors
/// The database can't be read.
pub async fn names(db: &mut SqliteConnection, id: SpeciesId) -> Result<Vec<OtherName>, AppError> {
    Ok(sqlx::query_as("SELECT name, kind, note, ambiguous_with FROM species_name WHERE species_id = ? ORDER BY kind, name")
        .bind(id)
        .fetch_all(db)
        .await?)
}

/// What lists of law and convention said of a species when they were last looked at.
///
/// # Errors
/// The database can't be read.
pub async fn listings(db: &mut SqliteConnection, id: SpeciesId) -> Result<Vec<Listing>, AppError> {
    Ok(sqlx::query_as(
        "SELECT scheme, entry, source, valid_from, last_checked, verified, note
         FROM species_listing WHERE species_id = ? ORDER BY scheme, entry",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// How much of a species stands in the house.
///
/// # Errors
/// The database can't be read.
pub async fn stock(db: &mut SqliteConnection, id: SpeciesId) -> Result<Stock, AppError> {
    Ok(sqlx::query_as(
        "WITH living AS (
            SELECT cohort.id, SUM(ledger_balance.quantity) AS quantity
            FROM cohort JOIN ledger_balance ON ledger_balance.cohort_id = cohort.id JOIN bucket ON bucket.code = ledger_balance.bucket
            WHERE cohort.species_id = ?1 AND bucket.kind = 'stage' GROUP BY cohort.id HAVING SUM(ledger_balance.quantity) > 0)
         SELECT (SELECT COUNT(*) FROM animal WHERE species_id = ?1 AND status = 'alive') AS animals,
                (SELECT COUNT(*) FROM living) AS cohorts,
                (SELECT COALESCE(SUM(quantity), 0) FROM living) AS spiderlings,
                (SELECT COUNT(*) FROM sac WHERE species_id = ?1 AND state = 'incubating') AS sacs",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// Adds a species with its names, listings and first care profile.
///
/// # Errors
/// A name that is taken.
pub async fn insert_species(write: &mut Write, new: &StarterSpecies, why: &str) -> Result<SpeciesId, AppError> {
    let id = insert_facts(write, new).await?;
    for name in &new.names {
        insert_name(write, id, name).await?;
    }
    for listing in &new.listings {
        insert_listing(write, id, listing).await?;
    }
    insert_profile(write, id, why, &new.care).await?;
    Ok(id)
}

async fn insert_facts(write: &mut Write, new: &StarterSpecies) -> Result<SpeciesId, AppError> {
    let days = new.stage_days;
    let genus = new.accepted_name.split(' ').next().unwrap_or_default();
    Ok(sqlx::query_scalar(
        "INSERT INTO species (
            accepted_name, authority, subfamily, world, range, habit, moisture, adult_span_min_mm, adult_span_max_mm, setae,
            setae_note, venom, venom_basis, defensive, very_fast, temper, communal, pace, clutch_min, clutch_max, pull_from_day,
            pull_to_day, post_embryo_from, post_embryo_to, first_instar_from, first_instar_to, second_instar_from,
            second_instar_to, breeding_basis, law_note, sac_group)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
         RETURNING id",
    )
    .bind(&new.accepted_name)
    .bind(&new.authority)
    .bind(&new.subfamily)
    .bind(new.world)
    .bind(&new.range)
    .bind(new.habit)
    .bind(new.moisture)
    .bind(new.adult_span_min_mm)
    .bind(new.adult_span_max_mm)
    .bind(new.setae)
    .bind(&new.setae_note)
    .bind(new.venom)
    .bind(&new.venom_basis)
    .bind(new.defensive)
    .bind(new.very_fast)
    .bind(&new.temper)
    .bind(new.communal)
    .bind(new.pace)
    .bind(new.clutch_min)
    .bind(new.clutch_max)
    .bind(new.pull_from_day)
    .bind(new.pull_to_day)
    .bind(days.post_embryo.0)
    .bind(days.post_embryo.1)
    .bind(days.first_instar.0)
    .bind(days.first_instar.1)
    .bind(days.second_instar.0)
    .bind(days.second_instar.1)
    .bind(&new.breeding_basis)
    .bind(&new.law_note)
    .bind(new.sac_group.or_else(|| SacGroup::of_genus(genus)))
    .fetch_one(write.db())
    .await?)
}

async fn insert_name(write: &mut Write, id: SpeciesId, new: &StarterName) -> Result<(), AppError> {
    sqlx::query("INSERT INTO species_name (species_id, name, kind, note, ambiguous_with) VALUES (?, ?, ?, ?, ?)")
        .bind(id)
        .bind(&new.name)
        .bind(new.kind)
        .bind(&new.note)
        .bind(&new.ambiguous_with)
        .execute(write.db())
        .await?;
    Ok(())
}

async fn insert_listing(write: &mut Write, id: SpeciesId, new: &Listing) -> Result<(), AppError> {
    sqlx::query(
        "INSERT INTO species_listing (species_id, scheme, entry, source, valid_from, last_checked, verified, note)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(id)
    .bind(&new.scheme)
    .bind(&new.entry)
    .bind(&new.source)
    .bind(new.valid_from)
    .bind(new.last_checked)
    .bind(new.verified)
    .bind(&new.note)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Puts the starter library into the book: every species of it whose accepted name is not there yet, and the texts of care
/// sheets that are missing. Gives how many species.
///
/// # Errors
/// The database can't be written.
pub async fn seed_library(write: &mut Write) -> Result<usize, AppError> {
    let there: Vec<String> = sqlx::query_scalar("SELECT accepted_name FROM species").fetch_all(write.db()).await?;
    let mut added = 0;
    for new in library().map_err(anyhow::Error::from)?.iter().filter(|new| !there.contains(&new.accepted_name)) {
        insert_species(write, new, "Starter library: common practice, to be made the house's own.").await?;
        added += 1;
    }
    texts::seed_texts(write).await?;
    Ok(added)
}

#[derive(sqlx::FromRow)]
struct RangeRow {
    species_id: SpeciesId,
    accepted_name: String,
    stage: LifeStage,
    moult_min_days: u32,
    moult_max_days: u32,
}

/// The usual days between moults by life stage, of every species or of one, with its name; from the newest revision.
///
/// # Errors
/// The database can't be read.
pub async fn moult_ranges(db: &mut SqliteConnection, of: Option<SpeciesId>) -> Result<Vec<(SpeciesId, String, UsualRanges)>, AppError> {
    let rows: Vec<RangeRow> = sqlx::query_as(
        "SELECT species.id AS species_id, species.accepted_name, care_stage.stage, care_stage.moult_min_days, care_stage.moult_max_days
         FROM species JOIN care_now ON care_now.species_id = species.id JOIN care_stage ON care_stage.profile_id = care_now.profile_id
         WHERE ?1 IS NULL OR species.id = ?1
         ORDER BY species.accepted_name, species.id",
    )
    .bind(of)
    .fetch_all(db)
    .await?;
    let by_species = rows.chunk_by(|one, next| one.species_id == next.species_id);
    Ok(by_species
        .filter_map(|rows| {
            let ranges = rows.iter().map(|row| (row.stage, (row.moult_min_days, row.moult_max_days))).collect();
            rows.first().map(|first| (first.species_id, first.accepted_name.clone(), ranges))
        })
        .collect())
}
