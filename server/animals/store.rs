//! All SQL of tagged animals: what they are, and what happens to them.

mod changes;
mod holdback;
mod leaving;
mod list;
mod moults;
mod records;
mod related;
mod strike;
mod timeline;

use sqlx::SqliteConnection;

use super::model::{Animal, AnimalStatus, NewAnimal, NewOrigin};
use crate::handling::model::Caution;
use crate::house::errors::AppError;
use crate::house::ids::AnimalId;
use crate::house::write::Write;
use crate::reckoning::hazard::{Hazard, HazardFacts, assess};
use crate::reckoning::tag;
use crate::{handling, species};

pub use changes::{change_note, needs_rehouse, set_sex};
pub use holdback::{held_back, hold_back, holdbacks, release};
pub use leaving::{record_back_from_buyer, record_leaving, record_return};
pub use list::{PAGE, by_sex, search};
pub use moults::{moult_book, spans};
pub use records::{
    clear_left_in, record_condition, record_meal, record_meal_from, record_measurement, record_moult, record_move, record_sign, span_doubt,
};
pub use related::{left_in_since, lineage, open_duties};
pub use strike::{strike_entry, strike_out};
pub use timeline::timeline;

/// One animal, with its species' name and what its entries add up to.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: AnimalId) -> Result<Animal, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag, animal.species_id, species.accepted_name AS species_name, species.adult_span_min_mm,
                animal.origin, animal.origin_line_id, animal.supplier, animal.papers, animal.source_code, animal.pre_convention,
                animal.locality, animal.born_on, animal.started_on, animal.sex, animal.sex_basis, animal.mature_on,
                animal.start_instar, animal.status, animal.status_on, animal.loss_cause, animal.shelf_id, place.label AS place,
                animal.position, animal.enclosure_length_mm, animal.enclosure_width_mm, animal.fall_gap_mm, animal.rehouse_note,
                animal.note, animal.version, now.last_moult_on, now.moults_here, now.span_mm, now.span_method,
                now.last_meal_id, now.last_sign_id,
                (SELECT COUNT(*) FROM moult_standing AS m WHERE m.animal_id = animal.id AND m.day >= animal.started_on) AS moults_since_start,
                (SELECT day FROM measurement_standing AS l WHERE l.animal_id = animal.id AND l.kind = 'dls'
                 ORDER BY l.day DESC, l.id DESC LIMIT 1) AS span_on,
                COALESCE((SELECT s.state FROM moult_sign_standing AS s WHERE s.id = now.last_sign_id
                          AND s.day > COALESCE(now.last_moult_on, '')), 'normal') AS moult_state
         FROM animal JOIN species ON species.id = animal.species_id JOIN animal_now AS now ON now.animal_id = animal.id
         LEFT JOIN place ON place.shelf_id = animal.shelf_id
         WHERE animal.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// The animal that carries a tag, written in any way that a keyboard or a scanner gives it.
///
/// # Errors
/// The database can't be read.
pub async fn find_by_tag(db: &mut SqliteConnection, typed: &str) -> Result<Option<AnimalId>, AppError> {
    Ok(sqlx::query_scalar("SELECT id FROM animal WHERE tag = ?").bind(tag::normalise(typed)).fetch_optional(db).await?)
}

/// Adds an animal, and makes its tag when none is given.
///
/// # Errors
/// A tag that is taken; a ledger line that tagged no more.
pub async fn insert(write: &mut Write, new: &NewAnimal) -> Result<AnimalId, AppError> {
    let tag = match &new.tag {
        Some(tag) => tag::normalise(tag),
        None => free_tag(write).await?,
    };
    let (origin, line, supplier, papers) = match &new.origin {
        NewOrigin::Cohort(line) => ("cohort", Some(*line), "", ""),
        NewOrigin::Bought { supplier, papers } => ("bought", None, supplier.as_str(), papers.as_str()),
    };
    let at = write.at;
    let id: AnimalId = sqlx::query_scalar(
        "INSERT INTO animal (tag, species_id, origin, origin_line_id, supplier, papers, source_code, pre_convention, locality, born_on,
                started_on, sex, sex_basis, start_instar, shelf_id, position, enclosure_length_mm, enclosure_width_mm, fall_gap_mm,
                note, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(tag)
    .bind(new.species)
    .bind(origin)
    .bind(line)
    .bind(supplier)
    .bind(papers)
    .bind(new.source.code)
    .bind(new.source.pre_convention)
    .bind(&new.locality)
    .bind(new.born_on)
    .bind(new.started_on)
    .bind(new.sex)
    .bind(new.sex_basis)
    .bind(new.instar)
    .bind(new.shelf)
    .bind(new.position)
    .bind(new.enclosure.map(|box_| box_.length_mm))
    .bind(new.enclosure.and_then(|box_| box_.width_mm))
    .bind(new.enclosure.and_then(|box_| box_.fall_gap_mm))
    .bind(&new.note)
    .bind(at)
    .fetch_one(write.db())
    .await?;
    if let Some(span) = &new.span {
        record_measurement(write, id, span, new.started_on, None).await?;
    }
    Ok(id)
}

/// The tag of the next running number that no animal carries yet.
async fn free_tag(write: &mut Write) -> Result<String, AppError> {
    let highest: i64 = sqlx::query_scalar("SELECT COALESCE(MAX(id), 0) FROM animal").fetch_one(write.db()).await?;
    let mut serial = u64::try_from(highest).unwrap_or(0) + 1;
    loop {
        let tag = tag::from_serial(serial);
        if find_by_tag(write.db(), &tag).await?.is_none() {
            return Ok(tag);
        }
        serial += 1;
    }
}

/// What bears on people's safety with this animal, and the band that follows.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such animal.
pub async fn hazard(db: &mut SqliteConnection, id: AnimalId) -> Result<(HazardFacts, Hazard), AppError> {
    let animal = require(db, id).await?;
    let cautions = handling::store::cautions_of(db, id).await?;
    let species = species::store::require(db, animal.species_id).await?;
    let facts = species.hazard_facts(animal.life_stage(), cautions.iter().map(Caution::individual).collect());
    let hazard = assess(&facts);
    Ok((facts, hazard))
}

/// Refuses to note anything of an animal that has left, or of a day before it hatched.
async fn living(write: &mut Write, id: AnimalId, day: chrono::NaiveDate) -> Result<(), AppError> {
    let (status, born_on): (AnimalStatus, Option<chrono::NaiveDate>) =
        sqlx::query_as("SELECT status, born_on FROM animal WHERE id = ?").bind(id).fetch_one(write.db()).await?;
    if status != AnimalStatus::Alive {
        return Err(AppError::refused("", format!("This animal is in the book as {status}, so nothing more can be noted of it.")));
    }
    if born_on.is_some_and(|born| day < born) {
        return Err(AppError::refused("day", "This day is before the animal hatched. Check the day."));
    }
    Ok(())
}
