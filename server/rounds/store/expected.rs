//! Animals whose next moult is to be expected.

use chrono::NaiveDate;
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::animals;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SpeciesId};
use crate::reckoning::moult::learn::MoultForecast;

/// An animal that is alive, with when it is to be expected to moult.
#[derive(Debug, Clone)]
pub struct Expected {
    /// The animal.
    pub animal: Standing,
    /// When.
    pub forecast: MoultForecast,
}

/// An animal and where it stands.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Standing {
    /// Its id.
    pub id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// The accepted name of that.
    pub species: String,
    /// Room, rack and shelf in words.
    pub place: Option<String>,
}

/// The living whose window for the next moult has begun, the likeliest to moult within seven days first.
///
/// # Errors
/// The database can't be read.
pub async fn expected_moults(db: &mut SqliteConnection, today: NaiveDate, zone: Tz) -> Result<Vec<Expected>, AppError> {
    let book = animals::store::moult_book(db, None, zone).await?;
    let living: Vec<Standing> = sqlx::query_as(
        "SELECT animal.id, animal.tag, animal.species_id, species.accepted_name AS species, place.label AS place
         FROM animal JOIN species ON species.id = animal.species_id LEFT JOIN place ON place.shelf_id = animal.shelf_id
         WHERE animal.status = 'alive' ORDER BY animal.tag",
    )
    .fetch_all(db)
    .await?;
    let forecasts = living.into_iter().filter_map(|animal| {
        let forecast = book.forecast(animal.species_id, animal.id, today)?;
        (forecast.at_moult.from <= today).then_some(Expected { animal, forecast })
    });
    let mut expected: Vec<Expected> = forecasts.collect();
    expected.sort_by(|one, next| next.forecast.probability_within_7_days.total_cmp(&one.forecast.probability_within_7_days));
    Ok(expected)
}
