//! The pick list: what open orders ask for, in walking order.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::packing::asked;
use super::readiness::check_all;
use super::sale_lines::sale_lines;
use super::to_handover::stock_lines;
use crate::animals;
use crate::cohorts;
use crate::handling;
use crate::house::errors::AppError;
use crate::house::ids::OrderId;
use crate::reckoning::hazard::{Band, cautions_text};
use crate::reckoning::who_may::{Part, missing};
use crate::sales::model::{Keeper, PickStop, Picked, Sale};

/// What one open order asks for, or all that are wanted by a day, in walking order: room, rack, shelf, position.
///
/// # Errors
/// The database can't be read.
pub async fn pick_list(
    db: &mut SqliteConnection,
    order: Option<OrderId>,
    day: NaiveDate,
    now: DateTime<Utc>,
    zone: Tz,
) -> Result<Vec<PickStop>, AppError> {
    let picked: Vec<Picked> = sqlx::query_as(
        "SELECT line.order_id, line.animal_id, line.cohort_id, line.stage, COALESCE(animal.tag, cohort.code) AS label,
                species.accepted_name AS species, line.packs, line.pack_of, place.label AS place,
                COALESCE(animal.position, cohort.position) AS position
         FROM sale_line AS line JOIN sale_order ON sale_order.id = line.order_id AND sale_order.state = 'open'
         LEFT JOIN handover ON handover.id = line.handover_id
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         LEFT JOIN place ON place.shelf_id = COALESCE(animal.shelf_id, cohort.shelf_id)
         WHERE COALESCE(handover.state, 'draft') = 'draft'
           AND (line.order_id = ?1 OR (?1 IS NULL AND sale_order.wanted_on = ?2))
         ORDER BY place.room_order IS NULL, place.room_order, place.room_name, place.rack_order, place.rack_name, place.shelf_order,
                  place.shelf_number, position, label, line.id",
    )
    .bind(order)
    .bind(day)
    .fetch_all(&mut *db)
    .await?;
    let mut stops = Vec::with_capacity(picked.len());
    for picked in picked {
        let findings = findings(&mut *db, &picked, now, zone).await?;
        stops.push(stop(&mut *db, picked, findings, day).await?);
    }
    Ok(stops)
}

async fn findings(db: &mut SqliteConnection, picked: &Picked, now: DateTime<Utc>, zone: Tz) -> Result<Vec<String>, AppError> {
    let buyer = super::orders::require_order(&mut *db, picked.order_id).await?.buyer_id;
    let keeper = Keeper { buyer: Some(buyer), order: Some(picked.order_id), outing: None };
    let mut lines = sale_lines(&mut *db, Sale::Order(picked.order_id)).await?;
    lines.retain(|line| (line.animal_id, line.cohort_id, line.stage) == (picked.animal_id, picked.cohort_id, picked.stage));
    let checked = check_all(db, stock_lines(&lines), keeper, now, zone).await?;
    Ok(checked
        .into_iter()
        .flat_map(|line| line.impossible.into_iter().chain(line.findings.into_iter().map(|finding| finding.text)))
        .collect())
}

async fn stop(db: &mut SqliteConnection, picked: Picked, findings: Vec<String>, day: NaiveDate) -> Result<PickStop, AppError> {
    let (facts, hazard) = match (picked.animal_id, picked.cohort_id) {
        (Some(animal), _) => animals::store::hazard(&mut *db, animal).await?,
        (None, Some(cohort)) => cohorts::store::hazard(&mut *db, cohort).await?,
        (None, None) => return Err(AppError::NotFound),
    };
    let cautions = if hazard.band == Band::NONE { Vec::new() } else { cautions_text(&facts) };
    Ok(PickStop { who_may: who_may(db, hazard.band, day).await?, band: i64::from(hazard.band.level()), cautions, findings, picked })
}

/// What packing a band asks for, and who may do it on that day.
///
/// # Errors
/// The database can't be read.
pub async fn who_may(db: &mut SqliteConnection, band: Band, day: NaiveDate) -> Result<String, AppError> {
    let asked = asked(&mut *db, band).await?;
    let team = handling::store::team(db, day).await?;
    let names = |part: Part| {
        let may = team.iter().filter(|who| missing(asked, part, who.standing()).is_none());
        let names: Vec<&str> = may.map(|who| who.person.name.as_str()).collect();
        if names.is_empty() { "nobody".to_owned() } else { names.join(", ") }
    };
    let people = if asked.persons >= 2 { "two people, " } else { "" };
    let second = if asked.persons >= 2 { format!("; second: {}", names(Part::Second)) } else { String::new() };
    Ok(format!("{people}{}: {}{second}", crate::house::text::clearance(&i64::from(asked.clearance)), names(Part::First)))
}
