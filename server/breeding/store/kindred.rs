//! Reading everybody of a species as kin.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::breeding::model::kindred::{KinAnimal, KinCohort, KinSac, Kindred};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SacId, SpeciesId};

/// Everybody of a species: animals, cohorts, sacs, and who may have sired them.
///
/// # Errors
/// The database can't be read.
pub async fn kindred(db: &mut SqliteConnection, species: SpeciesId) -> Result<Kindred, AppError> {
    let mut sires: BTreeMap<SacId, Vec<AnimalId>> = BTreeMap::new();
    for (sac, sire) in sires_of(db, species).await? {
        sires.entry(sac).or_default().push(sire);
    }
    Ok(Kindred {
        animals: animals(db, species).await?.into_iter().map(|animal| (animal.id, animal)).collect(),
        cohorts: cohorts(db, species).await?.into_iter().map(|cohort| (cohort.id, cohort)).collect(),
        sacs: sacs(db, species).await?.into_iter().map(|sac| (sac.id, sac)).collect(),
        sires,
    })
}

async fn animals(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<KinAnimal>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag, animal.sex, animal.status, animal.status_on, animal.source_code, origin.cohort_id,
                entry.id IS NOT NULL AS said, entry.line_id
         FROM animal LEFT JOIN ledger_line AS origin ON origin.id = animal.origin_line_id
         LEFT JOIN line_entry AS entry ON entry.id = (SELECT MAX(last.id) FROM line_entry AS last WHERE last.animal_id = animal.id)
         WHERE animal.species_id = ?",
    )
    .bind(species)
    .fetch_all(db)
    .await?)
}

async fn cohorts(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<KinCohort>, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort.id, cohort.code, cohort.started_on, cohort.source_code, cohort.parent_cohort_id, cohort.sac_id,
                COALESCE((SELECT quantity FROM ledger_balance WHERE cohort_id = cohort.id AND bucket = 'in'), 0) AS came_in,
                (SELECT COALESCE(SUM(ledger_balance.quantity), 0) FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
                 WHERE ledger_balance.cohort_id = cohort.id AND bucket.kind = 'stage') AS alive,
                COALESCE((SELECT quantity FROM ledger_balance WHERE cohort_id = cohort.id AND bucket = 'tagged'), 0) AS tagged,
                entry.id IS NOT NULL AS said, entry.line_id
         FROM cohort
         LEFT JOIN line_entry AS entry ON entry.id = (SELECT MAX(last.id) FROM line_entry AS last WHERE last.cohort_id = cohort.id)
         WHERE cohort.species_id = ?",
    )
    .bind(species)
    .fetch_all(db)
    .await?)
}

async fn sacs(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<KinSac>, AppError> {
    Ok(sqlx::query_as(
        "SELECT sac.id, sac.laid_on, sac.state, sac.dam_id, sac.dam_note, sac.sire_note, cohort.id AS cohort_id
         FROM sac LEFT JOIN cohort ON cohort.sac_id = sac.id WHERE sac.species_id = ?",
    )
    .bind(species)
    .fetch_all(db)
    .await?)
}

async fn sires_of(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<(SacId, AnimalId)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT possible_sire.sac_id, possible_sire.sire_id FROM possible_sire JOIN sac ON sac.id = possible_sire.sac_id
         WHERE sac.species_id = ? ORDER BY possible_sire.sac_id, possible_sire.sire_id",
    )
    .bind(species)
    .fetch_all(db)
    .await?)
}
