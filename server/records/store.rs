//! SQL of the search and of the audit page.

pub mod checks;

use sqlx::SqliteConnection;

use super::model::{FoundAnimal, FoundBuyer, FoundCohort, FoundSpecies};
use crate::house::audit::Entry;
use crate::house::errors::AppError;

/// Animals by a part of their tag.
///
/// # Errors
/// The database can't be read.
pub async fn animals(db: &mut SqliteConnection, text: &str) -> Result<Vec<FoundAnimal>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag, species.accepted_name AS species, animal.status
         FROM animal JOIN species ON species.id = animal.species_id
         WHERE instr(upper(animal.tag), upper(?)) > 0 ORDER BY animal.tag LIMIT 50",
    )
    .bind(text)
    .fetch_all(db)
    .await?)
}

/// Cohorts by a part of their code.
///
/// # Errors
/// The database can't be read.
pub async fn cohorts(db: &mut SqliteConnection, text: &str) -> Result<Vec<FoundCohort>, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort.id, cohort.code, species.accepted_name AS species
         FROM cohort JOIN species ON species.id = cohort.species_id
         WHERE instr(upper(cohort.code), upper(?)) > 0 ORDER BY cohort.code LIMIT 50",
    )
    .bind(text)
    .fetch_all(db)
    .await?)
}

/// Species by a part of any of their names, former ones too.
///
/// # Errors
/// The database can't be read.
pub async fn species(db: &mut SqliteConnection, text: &str) -> Result<Vec<FoundSpecies>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, accepted_name, '' AS by_name, '' AS kind FROM species WHERE instr(lower(accepted_name), lower(?1)) > 0
         UNION ALL
         SELECT species.id, species.accepted_name, species_name.name, species_name.kind
         FROM species_name JOIN species ON species.id = species_name.species_id
         WHERE instr(lower(species_name.name), lower(?1)) > 0
         ORDER BY 2, 3 LIMIT 50",
    )
    .bind(text)
    .fetch_all(db)
    .await?)
}

/// Buyers by whatever finds them: name, contact, paper, tag, cohort, telephone.
///
/// # Errors
/// The database can't be read.
pub async fn buyers(db: &mut SqliteConnection, text: &str) -> Result<Vec<FoundBuyer>, AppError> {
    let mut buyers = Vec::new();
    for found in crate::sales::store::find(db, text).await? {
        let handovers =
            sqlx::query_scalar("SELECT COUNT(*) FROM handover WHERE buyer_id = ?").bind(found.buyer.id).fetch_one(&mut *db).await?;
        buyers.push(FoundBuyer { id: found.buyer.id, name: found.buyer.name, handovers });
    }
    Ok(buyers)
}

/// Rows of the audit trail at or before a place, newest first; of one subject, or of all when it is empty.
///
/// # Errors
/// The database can't be read.
pub async fn trail(db: &mut SqliteConnection, upto: i64, subject: &str, limit: i64) -> Result<Vec<Entry>, AppError> {
    Ok(sqlx::query_as(
        "SELECT audit.id, at, member_id, member.name AS member_name, action, subject, before, after, previous_hash, hash
         FROM audit LEFT JOIN member ON member.id = audit.member_id
         WHERE audit.id <= ?1 AND (?2 = '' OR subject = ?2) ORDER BY audit.id DESC LIMIT ?3",
    )
    .bind(upto)
    .bind(subject)
    .bind(limit)
    .fetch_all(db)
    .await?)
}
