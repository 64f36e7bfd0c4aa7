//! Reading the moults of whole species, for what the house learns from them.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::animals::model::growth::SpanTaken;
use crate::animals::model::moults::{MoultBook, Told};
use crate::house::clock::local_date;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SpeciesId};
use crate::reckoning::moult::history::{History, Moult};
use crate::species;
use crate::species::model::life_stage;

#[derive(sqlx::FromRow)]
struct MoultRow {
    animal_id: AnimalId,
    species_id: SpeciesId,
    day: NaiveDate,
    at: DateTime<Utc>,
    /// The leg span nearest before or on the day, else the nearest after it.
    span_mm: Option<i64>,
    mature: bool,
    mature_male: bool,
    adult_span_min_mm: u32,
    status_on: Option<NaiveDate>,
    started_on: NaiveDate,
}

/// The moults of every species, or of one.
///
/// # Errors
/// The database can't be read.
pub async fn moult_book(db: &mut SqliteConnection, of: Option<SpeciesId>, zone: Tz) -> Result<MoultBook, AppError> {
    let mut told: BTreeMap<SpeciesId, Told> = BTreeMap::new();
    let rows = rows(db, of).await?;
    for animal in rows.chunk_by(|one, next| one.animal_id == next.animal_id) {
        let Some(first) = animal.first().filter(|first| !first.mature_male) else { continue };
        let moult = |row: &MoultRow| Moult {
            on: row.day,
            recorded_on: local_date(zone, row.at),
            stage: life_stage(row.span_mm, row.mature, row.adult_span_min_mm),
        };
        let (seen, brought): (Vec<&MoultRow>, Vec<&MoultRow>) = animal.iter().partition(|row| row.day > row.started_on);
        let history = |rows: &[&MoultRow]| History::new(rows.iter().map(|row| moult(row)).collect(), first.status_on);
        let of = told.entry(first.species_id).or_default();
        if !seen.is_empty() {
            of.histories.insert(first.animal_id, history(&seen));
        } else if let Some(last) = brought.last() {
            of.carried.insert(first.animal_id, history(&[last]));
        }
    }
    let ranges = species::store::moult_ranges(db, of).await?;
    let species = ranges.into_iter().map(|(id, name, usual)| (id, name, usual, told.remove(&id).unwrap_or_default()));
    MoultBook::learn(species).map_err(|error| AppError::Internal(error.into()))
}

/// A mature male does not moult again, so none of its forecasts is ever put to the test.
async fn rows(db: &mut SqliteConnection, of: Option<SpeciesId>) -> Result<Vec<MoultRow>, AppError> {
    let (first, last) = SpeciesId::range(of);
    Ok(sqlx::query_as(
        "SELECT animal.id AS animal_id, animal.species_id, moult.day, moult.at, animal.status_on, animal.started_on,
                COALESCE(
                    (SELECT mm FROM measurement_standing AS span WHERE span.animal_id = animal.id AND span.kind = 'dls'
                     AND span.day <= moult.day ORDER BY span.day DESC, span.id DESC LIMIT 1),
                    (SELECT mm FROM measurement_standing AS span WHERE span.animal_id = animal.id AND span.kind = 'dls'
                     AND span.day > moult.day ORDER BY span.day, span.id LIMIT 1)) AS span_mm,
                COALESCE(animal.mature_on <= moult.day, 0) AS mature,
                animal.sex = 'male' AND animal.mature_on IS NOT NULL AS mature_male, species.adult_span_min_mm
         FROM animal JOIN species ON species.id = animal.species_id JOIN moult_standing AS moult ON moult.animal_id = animal.id
         WHERE animal.species_id BETWEEN ? AND ?
         ORDER BY animal.id, moult.day, moult.id",
    )
    .bind(first)
    .bind(last)
    .fetch_all(db)
    .await?)
}

/// The leg spans that were taken of an animal, the oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn spans(db: &mut SqliteConnection, animal: AnimalId) -> Result<Vec<SpanTaken>, AppError> {
    Ok(sqlx::query_as(
        "SELECT span.day, span.mm, span.method,
                (SELECT COUNT(*) FROM moult_standing AS moult JOIN animal ON animal.id = moult.animal_id
                 WHERE moult.animal_id = span.animal_id AND moult.day <= span.day AND moult.day >= animal.started_on) AS moults
         FROM measurement_standing AS span WHERE span.animal_id = ? AND span.kind = 'dls' ORDER BY span.day, span.id",
    )
    .bind(animal)
    .fetch_all(db)
    .await?)
}
