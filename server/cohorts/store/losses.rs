//! Reading what losses are judged by, and noting that somebody looked into them.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::ledger::lines_of_species;
use crate::cohorts::model::Cohort;
use crate::cohorts::model::losses::{Judged, Kept, Losses};
use crate::house::clock::local_date;
use crate::house::errors::AppError;
use crate::house::ids::{CohortId, RackId, SpeciesId};
use crate::house::write::Write;
use crate::reckoning::ledger::Line;
use crate::reckoning::loss_alarm::Level;
use crate::reckoning::words::LifeStage;
use crate::species;

/// How far back readings of a rack are held against.
const CLIMATE_DAYS: i64 = 120;

#[derive(sqlx::FromRow)]
struct CohortRow {
    id: CohortId,
    root_id: CohortId,
    code: String,
    species_id: SpeciesId,
    species: String,
    rack_id: Option<RackId>,
    started_on: NaiveDate,
    looked_into: Option<NaiveDate>,
    feed_max_days: Option<u32>,
    alive: bool,
}

/// How the losses of every living cohort stand, those that alarm first.
///
/// # Errors
/// The database can't be read.
async fn judged_all(db: &mut SqliteConnection, now: DateTime<Utc>, zone: Tz) -> Result<Vec<Judged>, AppError> {
    let (kept, living) = kept(db, None).await?;
    let climate = species::store::climate::racks(db, now - TimeDelta::days(CLIMATE_DAYS), zone).await?;
    let losses = Losses::new(&kept, local_date(zone, now));
    let mut judged: Vec<Judged> = living.iter().filter_map(|id| losses.judge(*id, &climate)).collect();
    judged.sort_by_key(|cohort| std::cmp::Reverse(cohort.verdict.level));
    Ok(judged)
}

/// How the losses of one cohort stand. The whole house is read only for what differs, when they are not as usual.
///
/// # Errors
/// The database can't be read.
pub async fn judged_one(db: &mut SqliteConnection, cohort: &Cohort, now: DateTime<Utc>, zone: Tz) -> Result<Option<Judged>, AppError> {
    let (kept, _) = kept(db, Some(cohort.species_id)).await?;
    let among_its_species = Losses::new(&kept, local_date(zone, now)).judge(cohort.id, &[]);
    match among_its_species {
        Some(judged) if judged.verdict.level > Level::Quiet => {
            Ok(judged_all(db, now, zone).await?.into_iter().find(|judged| judged.id == cohort.id).or(Some(judged)))
        }
        judged => Ok(judged),
    }
}

/// The living cohorts whose losses are not as usual, those that alarm first.
///
/// # Errors
/// The database can't be read.
pub async fn alarmed(db: &mut SqliteConnection, now: DateTime<Utc>, zone: Tz) -> Result<Vec<Judged>, AppError> {
    Ok(judged_all(db, now, zone).await?.into_iter().filter(|cohort| cohort.verdict.level > Level::Quiet).collect())
}

/// Notes that somebody looked into a cohort's losses: what was lost up to today does not count again.
///
/// # Errors
/// The database can't be written.
pub async fn look_into(write: &mut Write, cohort: CohortId, note: &str) -> Result<(), AppError> {
    let (who, at, today) = (write.who, write.at, write.today);
    sqlx::query("INSERT INTO loss_review (cohort_id, day, note, member_id, at) VALUES (?, ?, ?, ?, ?)")
        .bind(cohort)
        .bind(today)
        .bind(note)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// What was found when somebody looked into a cohort's losses, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn reviews(db: &mut SqliteConnection, cohort: CohortId) -> Result<Vec<(NaiveDate, String, String)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT loss_review.day, loss_review.note, COALESCE(member.name, '') FROM loss_review
         LEFT JOIN member ON member.id = loss_review.member_id
         WHERE loss_review.cohort_id = ? ORDER BY loss_review.day DESC, loss_review.id DESC",
    )
    .bind(cohort)
    .fetch_all(db)
    .await?)
}

/// Every cohort of the house or of a species, and which of them live.
async fn kept(db: &mut SqliteConnection, of: Option<SpeciesId>) -> Result<(Vec<Kept>, Vec<CohortId>), AppError> {
    let rows = cohorts(db, of).await?;
    let living = rows.iter().filter(|row| row.alive).map(|row| row.id).collect();
    let mut lines = lines(db, of).await?;
    let mut fed = days(db, FED, of).await?;
    let mut looks = days(db, LOOKS, of).await?;
    let kept = rows.into_iter().map(|row| Kept {
        lines: lines.remove(&row.id).unwrap_or_default(),
        fed: fed.remove(&row.id).unwrap_or_default(),
        looks: looks.remove(&row.id).unwrap_or_default(),
        id: row.id,
        code: row.code,
        species_id: row.species_id,
        species: row.species,
        root: row.root_id,
        rack: row.rack_id,
        started_on: row.started_on,
        looked_into: row.looked_into,
        feed_max_days: row.feed_max_days,
    });
    Ok((kept.collect(), living))
}

async fn cohorts(db: &mut SqliteConnection, of: Option<SpeciesId>) -> Result<Vec<CohortRow>, AppError> {
    let (first, last) = SpeciesId::range(of);
    Ok(sqlx::query_as(
        "SELECT cohort.id, cohort_root.root_id, cohort.code, cohort.species_id, species.accepted_name AS species, shelf.rack_id,
                cohort.started_on,
                (SELECT MAX(day) FROM loss_review WHERE loss_review.cohort_id = cohort.id) AS looked_into,
                (SELECT care_stage.feed_max_days FROM care_now JOIN care_stage ON care_stage.profile_id = care_now.profile_id
                 WHERE care_now.species_id = cohort.species_id AND care_stage.stage = ?1) AS feed_max_days,
                EXISTS (SELECT 1 FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
                        WHERE ledger_balance.cohort_id = cohort.id AND bucket.kind = 'stage' AND ledger_balance.quantity > 0) AS alive
         FROM cohort JOIN cohort_root ON cohort_root.cohort_id = cohort.id JOIN species ON species.id = cohort.species_id
         LEFT JOIN shelf ON shelf.id = cohort.shelf_id
         WHERE cohort.species_id BETWEEN ?2 AND ?3 ORDER BY cohort.code",
    )
    .bind(LifeStage::Spiderling)
    .bind(first)
    .bind(last)
    .fetch_all(db)
    .await?)
}

async fn lines(db: &mut SqliteConnection, of: Option<SpeciesId>) -> Result<BTreeMap<CohortId, Vec<Line>>, AppError> {
    let mut by_cohort: BTreeMap<CohortId, Vec<Line>> = BTreeMap::new();
    for row in lines_of_species(db, of).await? {
        by_cohort.entry(row.cohort_id).or_default().push(row.line.line());
    }
    Ok(by_cohort)
}

const FED: &str = "SELECT DISTINCT meal.cohort_id, meal.day FROM cohort JOIN cohort_meal_standing AS meal ON meal.cohort_id = cohort.id
     WHERE cohort.species_id BETWEEN ? AND ?";

/// Whoever feeds, checks or counts a cohort sees its dead.
const LOOKS: &str = "SELECT DISTINCT duty.cohort_id, signoff.day
     FROM cohort JOIN duty ON duty.cohort_id = cohort.id JOIN signoff ON signoff.duty_id = duty.id
     WHERE cohort.species_id BETWEEN ? AND ? AND duty.kind IN ('feed', 'moult-check', 'cohort-count')
       AND signoff.corrects_id IS NULL AND signoff.outcome <> 'could-not'";

async fn days(
    db: &mut SqliteConnection,
    statement: &'static str,
    of: Option<SpeciesId>,
) -> Result<BTreeMap<CohortId, BTreeSet<NaiveDate>>, AppError> {
    let (first, last) = SpeciesId::range(of);
    let rows: Vec<(CohortId, NaiveDate)> = sqlx::query_as(statement).bind(first).bind(last).fetch_all(db).await?;
    let mut by_cohort: BTreeMap<CohortId, BTreeSet<NaiveDate>> = BTreeMap::new();
    for (cohort, day) in rows {
        by_cohort.entry(cohort).or_default().insert(day);
    }
    Ok(by_cohort)
}
