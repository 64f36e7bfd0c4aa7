//! Whose young a sac holds, and whether the lines of its parents differ.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::introductions::introductions_of_dam;
use super::pairings::{dam_moults, pairings_of};
use super::require_sac;
use crate::breeding::model::Sac;
use crate::breeding::model::pairing::{MixedLine, SireCandidate};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, SacId};
use crate::reckoning::breeding::{Parentage, Sire, candidates, parentage};

/// What the introductions and moults of a dam say of the sire of a sac that she laid on a day.
///
/// # Errors
/// The database can't be read.
pub async fn parentage_of(db: &mut SqliteConnection, dam: AnimalId, laid_on: NaiveDate) -> Result<Parentage, AppError> {
    let introductions: Vec<_> = introductions_of_dam(&mut *db, dam).await?.iter().map(|one| one.as_pairing().0).collect();
    Ok(parentage(&introductions, &dam_moults(db, dam).await?, laid_on))
}

/// The one male that can have sired a sac which a dam laid on a day; none when there are several, or nobody.
///
/// # Errors
/// The database can't be read.
pub async fn sire_by_introductions(db: &mut SqliteConnection, dam: AnimalId, laid_on: NaiveDate) -> Result<Option<AnimalId>, AppError> {
    Ok(match parentage_of(db, dam, laid_on).await?.sire {
        Sire::Known { sire } => Some(AnimalId(sire)),
        Sire::SeveralCandidates { .. } | Sire::ExpectedInfertile | Sire::NotKnown => None,
    })
}

/// The males that may have sired a sac, in the order of their first introduction: several stay several, and each is marked by
/// what was seen of him ([`candidates`] says why). Empty for a dam that is not ours, and without introductions on record.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such sac.
pub async fn sire_candidates(db: &mut SqliteConnection, sac: SacId) -> Result<Vec<SireCandidate>, AppError> {
    let sac = require_sac(&mut *db, sac).await?;
    candidates_of(db, &sac).await
}

async fn candidates_of(db: &mut SqliteConnection, sac: &Sac) -> Result<Vec<SireCandidate>, AppError> {
    let Some(dam) = sac.dam_id else { return Ok(Vec::new()) };
    let introductions = introductions_of_dam(&mut *db, dam).await?;
    let moults = dam_moults(&mut *db, dam).await?;
    let pairings = pairings_of(db, dam).await?;
    let told: Vec<_> = introductions.iter().map(crate::breeding::model::Introduction::as_pairing).collect();
    let mut found = Vec::new();
    for candidate in candidates(&told, &moults, sac.laid_on) {
        let first = introductions.iter().find(|one| one.sire_id.0 == candidate.sire && one.day == candidate.first_on);
        let Some(first) = first else { continue };
        let mixed = pairings.iter().find(|row| row.id == first.pairing_id).map(|row| row.mixed.clone()).unwrap_or_default();
        found.push(SireCandidate {
            id: first.sire_id,
            tag: first.sire_tag.clone(),
            first_on: candidate.first_on,
            insertion: candidate.insertion,
            mixed,
        });
    }
    Ok(found)
}

/// Whether the lines of a sac's parents differ, by the pairings that can have led to it; by the lines of dam and sire as they
/// stand in the book where the sire was entered without a pairing. None when they do not differ, as far as anybody knows.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such sac.
pub async fn mixed_line_of_sac(db: &mut SqliteConnection, sac: SacId) -> Result<Option<MixedLine>, AppError> {
    let sac = require_sac(&mut *db, sac).await?;
    let mut possible = candidates_of(&mut *db, &sac).await?;
    if let Some(entered) = sac.sire_id {
        possible.retain(|candidate| candidate.id == entered);
        if possible.is_empty() {
            return by_localities(db, &sac).await;
        }
    }
    let mut words: Vec<&str> = possible.iter().map(|candidate| candidate.mixed.as_str()).filter(|mixed| !mixed.is_empty()).collect();
    if words.is_empty() {
        return Ok(None);
    }
    let sure = words.len() == possible.len();
    words.dedup();
    Ok(Some(MixedLine { words: words.join("; or "), sure }))
}

async fn by_localities(db: &mut SqliteConnection, sac: &Sac) -> Result<Option<MixedLine>, AppError> {
    let words: Option<String> = sqlx::query_scalar(
        "SELECT COALESCE(NULLIF(dam.locality, ''), 'not known') || ' and ' || COALESCE(NULLIF(sire.locality, ''), 'not known')
         FROM animal AS dam, animal AS sire WHERE dam.id = ? AND sire.id = ? AND dam.locality <> sire.locality",
    )
    .bind(sac.dam_id)
    .bind(sac.sire_id)
    .fetch_optional(db)
    .await?;
    Ok(words.map(|words| MixedLine { words, sure: true }))
}

/// Whether a cohort came of parents whose lines differ, however often it was split since.
///
/// # Errors
/// The database can't be read.
pub async fn mixed_line_of_cohort(db: &mut SqliteConnection, cohort: CohortId) -> Result<Option<MixedLine>, AppError> {
    match sac_of_cohort(&mut *db, cohort).await? {
        Some(sac) => mixed_line_of_sac(db, sac).await,
        None => Ok(None),
    }
}

/// Whether an animal came of parents whose lines differ, where it hatched here.
///
/// # Errors
/// The database can't be read.
pub async fn mixed_line_of_animal(db: &mut SqliteConnection, animal: AnimalId) -> Result<Option<MixedLine>, AppError> {
    match sac_of_animal(&mut *db, animal).await? {
        Some(sac) => mixed_line_of_sac(db, sac).await,
        None => Ok(None),
    }
}

/// The sac that a cohort came from, however often it was split since; none for one that was bought.
///
/// # Errors
/// The database can't be read.
pub async fn sac_of_cohort(db: &mut SqliteConnection, cohort: CohortId) -> Result<Option<SacId>, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT root.sac_id FROM cohort_root JOIN cohort AS root ON root.id = cohort_root.root_id
         WHERE cohort_root.cohort_id = ? AND root.sac_id IS NOT NULL",
    )
    .bind(cohort)
    .fetch_optional(db)
    .await?)
}

/// The sac that an animal hatched from, where it hatched here.
///
/// # Errors
/// The database can't be read.
pub async fn sac_of_animal(db: &mut SqliteConnection, animal: AnimalId) -> Result<Option<SacId>, AppError> {
    let cohort: Option<CohortId> = sqlx::query_scalar(
        "SELECT ledger_line.cohort_id FROM animal JOIN ledger_line ON ledger_line.id = animal.origin_line_id WHERE animal.id = ?",
    )
    .bind(animal)
    .fetch_optional(&mut *db)
    .await?;
    match cohort {
        Some(cohort) => sac_of_cohort(db, cohort).await,
        None => Ok(None),
    }
}
