//! The animals of a species that can breed.

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SpeciesId};
use crate::reckoning::words::{Sex, SexBasis};

/// A living animal whose sex is known, or thought to be.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Breeder {
    /// The animal.
    pub id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// Its sex.
    pub sex: Sex,
    /// What that rests on.
    pub sex_basis: SexBasis,
}

/// The living animals of a species that are sexed, by tag.
///
/// # Errors
/// The database can't be read.
pub async fn breeders(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<Breeder>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, tag, sex, sex_basis FROM animal WHERE species_id = ? AND status = 'alive' AND sex <> 'unknown' ORDER BY tag",
    )
    .bind(species)
    .fetch_all(db)
    .await?)
}

/// The tags of living animals of a species that have the span of an adult and are not sexed.
///
/// # Errors
/// The database can't be read.
pub async fn adults_not_sexed(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<String>, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT animal.tag FROM animal JOIN species ON species.id = animal.species_id JOIN animal_now AS now ON now.animal_id = animal.id
         WHERE animal.species_id = ? AND animal.status = 'alive' AND animal.sex = 'unknown' AND now.span_mm >= species.adult_span_min_mm
         ORDER BY animal.tag",
    )
    .bind(species)
    .fetch_all(db)
    .await?)
}
