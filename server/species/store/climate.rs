//! The climate of racks: what stands in them needs it, and what their instruments showed.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::RackId;
use crate::reckoning::climate::band::{ClimateBand, needed_band};
use crate::reckoning::climate::watch::{Reading as Seen, Rule, out_of_range};
use crate::reckoning::words::LifeStage;
use crate::rooms;
use crate::rooms::model::{Rack, Reading};
use crate::species::model::climate::RackClimate;
use crate::species::model::life_stage;

#[derive(sqlx::FromRow)]
struct StandsRow {
    rack_id: RackId,
    species_id: i64,
    span_mm: Option<i64>,
    mature: bool,
    adult_span_min_mm: u32,
    is_cohort: bool,
}

#[derive(sqlx::FromRow)]
struct BandRow {
    species_id: i64,
    accepted_name: String,
    stage: LifeStage,
    day_min_c: f64,
    day_max_c: f64,
    rh_min: f64,
    rh_max: f64,
}

/// Every rack in walking order, with what it needs, what was read since an instant, and how it stands after that.
///
/// # Errors
/// The database can't be read.
pub async fn racks(db: &mut SqliteConnection, since: DateTime<Utc>, zone: Tz) -> Result<Vec<RackClimate>, AppError> {
    let racks = rooms::store::racks(db).await?;
    let bands = bands(db).await?;
    let stands = stands(db).await?;
    let readings = rooms::store::climate::readings_since(db, since).await?;
    racks
        .into_iter()
        .map(|rack| {
            let room: Vec<Reading> = readings.iter().filter(|reading| reading.room_id == rack.room_id).cloned().collect();
            let own = rooms::store::climate::standing_for(&room, rack.id);
            stand(rack, &stands, &bands, own, zone)
        })
        .collect()
}

/// One rack, likewise.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn rack(db: &mut SqliteConnection, id: RackId, since: DateTime<Utc>, zone: Tz) -> Result<RackClimate, AppError> {
    let rack = rooms::store::require_rack(db, id).await?;
    let (bands, stands) = (bands(db).await?, stands(db).await?);
    let readings = rooms::store::climate::readings_of_rack(db, id, since).await?;
    stand(rack, &stands, &bands, readings, zone)
}

type Bands = BTreeMap<(i64, LifeStage), (String, ClimateBand)>;

fn stand(rack: Rack, stands: &[StandsRow], bands: &Bands, readings: Vec<Reading>, zone: Tz) -> Result<RackClimate, AppError> {
    let kinds: BTreeSet<(i64, LifeStage)> = stands.iter().filter(|row| row.rack_id == rack.id).map(StandsRow::kind).collect();
    let wanted: Vec<(&str, ClimateBand)> =
        kinds.iter().filter_map(|kind| bands.get(kind)).map(|(label, band)| (label.as_str(), *band)).collect();
    let needed = if wanted.is_empty() { None } else { Some(needed_band(&wanted).map_err(|error| AppError::Internal(error.into()))?) };
    let seen: Vec<Seen> = readings
        .iter()
        // Percentages are small numbers.
        .map(|reading| Seen { at: reading.at, celsius: reading.celsius(), humidity: reading.humidity.map(|percent| percent as f64) })
        .collect();
    let state = match &needed {
        Some(needed) => Some(out_of_range(&seen, needed, Rule::default(), zone).map_err(|error| AppError::Internal(error.into()))?),
        None => None,
    };
    Ok(RackClimate { rack, needed, readings, state })
}

impl StandsRow {
    fn kind(&self) -> (i64, LifeStage) {
        let stage = if self.is_cohort && self.span_mm.is_none() {
            LifeStage::Spiderling
        } else {
            life_stage(self.span_mm, self.mature, self.adult_span_min_mm)
        };
        (self.species_id, stage)
    }
}

/// What stands in racks and is alive: animals, and cohorts with any left.
async fn stands(db: &mut SqliteConnection) -> Result<Vec<StandsRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT shelf.rack_id, animal.species_id, now.span_mm, animal.mature_on IS NOT NULL OR animal.sex_basis = 'mature' AS mature,
                species.adult_span_min_mm, 0 AS is_cohort
         FROM animal JOIN shelf ON shelf.id = animal.shelf_id JOIN species ON species.id = animal.species_id
         JOIN animal_now AS now ON now.animal_id = animal.id
         WHERE animal.status = 'alive'
         UNION ALL
         SELECT shelf.rack_id, cohort.species_id, cohort.span_mm, 0, species.adult_span_min_mm, 1
         FROM cohort JOIN shelf ON shelf.id = cohort.shelf_id JOIN species ON species.id = cohort.species_id
         WHERE EXISTS (SELECT 1 FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
                       WHERE ledger_balance.cohort_id = cohort.id AND bucket.kind = 'stage' AND ledger_balance.quantity > 0)",
    )
    .fetch_all(db)
    .await?)
}

/// What each species needs at each life stage, from the newest revision of its care profile.
async fn bands(db: &mut SqliteConnection) -> Result<Bands, AppError> {
    let rows: Vec<BandRow> = sqlx::query_as(
        "SELECT species.id AS species_id, species.accepted_name, care_stage.stage, CAST(day_min_c AS REAL) AS day_min_c,
                CAST(day_max_c AS REAL) AS day_max_c, CAST(rh_min AS REAL) AS rh_min, CAST(rh_max AS REAL) AS rh_max
         FROM species JOIN care_now ON care_now.species_id = species.id JOIN care_stage ON care_stage.profile_id = care_now.profile_id",
    )
    .fetch_all(db)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| {
            let band = ClimateBand { celsius: (row.day_min_c, row.day_max_c), humidity: (row.rh_min, row.rh_max) };
            ((row.species_id, row.stage), (row.accepted_name, band))
        })
        .collect())
}
