//! Lines, who is of them, and what was said of that.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::kindred;
use crate::animals;
use crate::breeding::model::Kin;
use crate::breeding::model::lines::{LineEntry, LineRow, NewLine, OfLine};
use crate::cohorts;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, SpeciesId, StrainId};
use crate::house::write::Write;
use crate::reckoning::strain::{Strains, young};
use crate::species;

/// All lines, by species and name.
///
/// # Errors
/// The database can't be read.
pub async fn lines(db: &mut SqliteConnection) -> Result<Vec<LineRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.id, line.species_id, species.accepted_name AS species, line.name, line.note, line.founded_on, line.version
         FROM line JOIN species ON species.id = line.species_id ORDER BY species.accepted_name, line.name",
    )
    .fetch_all(db)
    .await?)
}

/// The lines of a species, by name.
///
/// # Errors
/// The database can't be read.
pub async fn lines_of_species(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<LineRow>, AppError> {
    Ok(lines(db).await?.into_iter().filter(|line| line.species_id == species).collect())
}

/// One line.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_line(db: &mut SqliteConnection, id: StrainId) -> Result<LineRow, AppError> {
    lines(db).await?.into_iter().find(|line| line.id == id).ok_or(AppError::NotFound)
}

/// Names a new line.
///
/// # Errors
/// A species that is not in the book, a day still to come, a name that the species has already.
pub async fn insert_line(write: &mut Write, new: &NewLine) -> Result<StrainId, AppError> {
    super::check_past("founded_on", new.founded_on, write.today)?;
    if let Err(AppError::NotFound) = species::store::require(write.db(), new.species).await {
        return Err(AppError::refused("species", "This species is not in the book. Choose one of the list."));
    }
    check_name(write, new.species, None, &new.name).await?;
    let at = write.at;
    Ok(sqlx::query_scalar("INSERT INTO line (species_id, name, note, founded_on, created_at) VALUES (?, ?, ?, ?, ?) RETURNING id")
        .bind(new.species)
        .bind(&new.name)
        .bind(&new.note)
        .bind(new.founded_on)
        .bind(at)
        .fetch_one(write.db())
        .await?)
}

/// Changes a line's name, note and day. False when it has changed since `version`, and then nothing is written.
///
/// # Errors
/// A day still to come, a name that the species has already.
pub async fn change_line(write: &mut Write, id: StrainId, version: i64, new: &NewLine) -> Result<bool, AppError> {
    super::check_past("founded_on", new.founded_on, write.today)?;
    check_name(write, new.species, Some(id), &new.name).await?;
    let changed = sqlx::query("UPDATE line SET name = ?, note = ?, founded_on = ?, version = version + 1 WHERE id = ? AND version = ?")
        .bind(&new.name)
        .bind(&new.note)
        .bind(new.founded_on)
        .bind(id)
        .bind(version)
        .execute(write.db())
        .await?;
    Ok(changed.rows_affected() == 1)
}

async fn check_name(write: &mut Write, species: SpeciesId, own: Option<StrainId>, name: &str) -> Result<(), AppError> {
    let taken: bool = sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM line WHERE species_id = ? AND name = ? AND id IS NOT ?)")
        .bind(species)
        .bind(name)
        .bind(own)
        .fetch_one(write.db())
        .await?;
    if taken { Err(AppError::refused("name", "A line of this species has this name already. Choose another.")) } else { Ok(()) }
}

/// Says of an animal or a cohort that it is of a line, or of none. What was said before stays in the book.
///
/// # Errors
/// A line that is not there or of another species, a day still to come or before the animal or cohort was in the house.
pub async fn enter_line(write: &mut Write, kin: Kin, line: Option<StrainId>, day: NaiveDate, note: &str) -> Result<(), AppError> {
    super::check_past("day", day, write.today)?;
    let (species, since, animal, cohort) = match kin {
        Kin::Animal(id) => {
            let animal = animals::store::require(write.db(), id).await?;
            (animal.species_id, animal.started_on, Some(id), None)
        }
        Kin::Cohort(id) => {
            let cohort = cohorts::store::require(write.db(), id).await?;
            (cohort.species_id, cohort.started_on, None, Some(id))
        }
    };
    if day < since {
        return Err(AppError::refused("day", format!("This is before it was in the house, which is since {since}.")));
    }
    if let Some(line) = line
        && !lines_of_species(write.db(), species).await?.iter().any(|known| known.id == line)
    {
        return Err(AppError::refused("line", "This is no line of its species. Choose one of the list."));
    }
    let (who, at) = (write.who, write.at);
    sqlx::query("INSERT INTO line_entry (line_id, animal_id, cohort_id, day, note, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?)")
        .bind(line)
        .bind(animal)
        .bind(cohort)
        .bind(day)
        .bind(note)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// What was said of the line of an animal or a cohort, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn entries_of(db: &mut SqliteConnection, kin: Kin) -> Result<Vec<LineEntry>, AppError> {
    let (animal, cohort) = match kin {
        Kin::Animal(id) => (Some(id), None),
        Kin::Cohort(id) => (None, Some(id)),
    };
    Ok(sqlx::query_as(
        "SELECT entry.day, entry.line_id, line.name, entry.note, member.name AS by_name
         FROM line_entry AS entry LEFT JOIN line ON line.id = entry.line_id LEFT JOIN member ON member.id = entry.member_id
         WHERE entry.animal_id = ?1 OR entry.cohort_id = ?2 ORDER BY entry.id DESC",
    )
    .bind(animal)
    .bind(cohort)
    .fetch_all(db)
    .await?)
}

/// Of which line an animal is: as was said last, or as its parents are.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such animal.
pub async fn line_of(db: &mut SqliteConnection, id: AnimalId) -> Result<OfLine, AppError> {
    let species = animals::store::require(&mut *db, id).await?.species_id;
    let kin = kindred(&mut *db, species).await?;
    let said = kin.animals.get(&id).is_some_and(|animal| animal.said);
    let strains = kin.strains().0.remove(&id).unwrap_or_default();
    named(db, species, strains, said).await
}

/// Of which line a cohort is: as was said last, or as its parents are.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such cohort.
pub async fn line_of_cohort(db: &mut SqliteConnection, id: CohortId) -> Result<OfLine, AppError> {
    let species = cohorts::store::require(&mut *db, id).await?.species_id;
    let kin = kindred(&mut *db, species).await?;
    let said = kin.cohorts.get(&id).is_some_and(|cohort| cohort.said);
    let strains = kin.strains().1.remove(&id).unwrap_or_default();
    named(db, species, strains, said).await
}

/// Of which line the young of a dam and of the males that may sire them would be, all of one species. An unknown parent is of
/// no line.
///
/// # Errors
/// The database can't be read.
pub async fn line_of_young(
    db: &mut SqliteConnection,
    species: SpeciesId,
    dam: Option<AnimalId>,
    sires: &[AnimalId],
) -> Result<OfLine, AppError> {
    let known = kindred(&mut *db, species).await?.strains().0;
    let sires: Vec<&Strains> = sires.iter().filter_map(|sire| known.get(sire)).collect();
    let strains = young(dam.as_ref().and_then(|dam| known.get(dam)), &sires);
    named(db, species, strains, false).await
}

async fn named(db: &mut SqliteConnection, species: SpeciesId, strains: Strains, said: bool) -> Result<OfLine, AppError> {
    let names: BTreeMap<i64, String> = lines_of_species(db, species).await?.into_iter().map(|line| (line.id.0, line.name)).collect();
    Ok(OfLine { strains, names, said })
}
