//! Cohorts in lists, and where one comes from.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, SacId};
use crate::reckoning::stage::Stage;

/// How many cohorts a page of the list shows.
pub const PER_PAGE: i64 = 50;

/// A cohort as the list shows it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Listed {
    /// Its id.
    pub id: CohortId,
    /// Its code.
    pub code: String,
    /// Its species.
    pub species: String,
    /// The day it began.
    pub started_on: NaiveDate,
    /// Room, rack and shelf in words.
    pub place: Option<String>,
    /// The position on the shelf.
    pub position: Option<i64>,
    /// How many are alive.
    pub alive: i64,
    /// How many of them are held back.
    pub held: i64,
}

/// Cohorts by species and code: those with any alive, or those that have ended. Pages count from 0; one more than a
/// page holds comes along when there is a next page.
///
/// # Errors
/// The database can't be read.
pub async fn list(db: &mut SqliteConnection, ended: bool, page: i64) -> Result<Vec<Listed>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, code, species, started_on, place, position, alive, MIN(held, alive) AS held FROM (
             SELECT cohort.id, cohort.code, species.accepted_name AS species, cohort.started_on, place.label AS place, cohort.position,
                    (SELECT COALESCE(SUM(ledger_balance.quantity), 0) FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
                     WHERE ledger_balance.cohort_id = cohort.id AND bucket.kind = 'stage') AS alive,
                    (SELECT COALESCE(SUM(quantity), 0) FROM holdback WHERE holdback.cohort_id = cohort.id) AS held
             FROM cohort JOIN species ON species.id = cohort.species_id LEFT JOIN place ON place.shelf_id = cohort.shelf_id
         )
         WHERE (alive = 0) = ?1 ORDER BY species, code LIMIT ?2 + 1 OFFSET ?2 * ?3",
    )
    .bind(ended)
    .bind(PER_PAGE)
    .bind(page)
    .fetch_all(db)
    .await?)
}

/// How many stand at each stage in every cohort that has any, youngest first.
///
/// # Errors
/// The database can't be read.
pub async fn stages(db: &mut SqliteConnection) -> Result<Vec<(CohortId, Stage, i64)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT ledger_balance.cohort_id, ledger_balance.bucket, ledger_balance.quantity
         FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
         WHERE bucket.kind = 'stage' AND ledger_balance.quantity > 0 ORDER BY ledger_balance.cohort_id, bucket.ordinal",
    )
    .fetch_all(db)
    .await?)
}

/// The sac that a cohort came from, and its parents as far as they are known.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct FromSac {
    /// The sac.
    pub id: SacId,
    /// The day it was laid.
    pub laid_on: NaiveDate,
    /// The day it was pulled.
    pub pulled_on: Option<NaiveDate>,
    /// The dam, if she is one of ours.
    pub dam_id: Option<AnimalId>,
    /// Her tag.
    pub dam_tag: Option<String>,
    /// What is known of a dam that is not ours.
    pub dam_note: String,
    /// Whether she was mated in the wild.
    pub dam_wild_mated: bool,
    /// The sire, if he is known.
    pub sire_id: Option<AnimalId>,
    /// His tag.
    pub sire_tag: Option<String>,
    /// What else is known of the sire.
    pub sire_note: String,
}

/// The sac that a cohort came from; for a split one, the sac of the cohort it was split from, however far back.
///
/// # Errors
/// The database can't be read.
pub async fn from_sac(db: &mut SqliteConnection, cohort: CohortId) -> Result<Option<FromSac>, AppError> {
    Ok(sqlx::query_as(
        "WITH RECURSIVE line (id, sac_id, parent_cohort_id) AS (
             SELECT id, sac_id, parent_cohort_id FROM cohort WHERE id = ?
             UNION ALL
             SELECT cohort.id, cohort.sac_id, cohort.parent_cohort_id FROM line JOIN cohort ON cohort.id = line.parent_cohort_id
         )
         SELECT sac.id, sac.laid_on, sac.pulled_on, sac.dam_id, dam.tag AS dam_tag, sac.dam_note, sac.dam_wild_mated, sac.sire_id,
                sire.tag AS sire_tag, sac.sire_note
         FROM line JOIN sac ON sac.id = line.sac_id
         LEFT JOIN animal AS dam ON dam.id = sac.dam_id LEFT JOIN animal AS sire ON sire.id = sac.sire_id",
    )
    .bind(cohort)
    .fetch_optional(db)
    .await?)
}
