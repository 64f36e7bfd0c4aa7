//! The days ahead: what falls due on each, who is in, and how it would be shared out.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::facts::{Moment, Scope, gather};
use crate::house::errors::AppError;
use crate::house::ids::RackId;
use crate::reckoning::calendar::days_after;
use crate::reckoning::planner::{LeftIn, SiteRules, SubjectKey, SubjectKind, left_in_share, look_ahead};
use crate::reckoning::rota::{self, ComingWork, share_coming};
use crate::rounds::model::ahead::{Ahead, Coming, OnComingDay};
use crate::{handling, staff};

/// Meals further back than this say nothing of what is left in now.
const DAYS_BACK: u64 = 180;

/// Where a subject stands, in words.
#[derive(Debug, Clone, sqlx::FromRow)]
struct Standing {
    subject: String,
    id: i64,
    label: String,
    species: String,
    rack_id: Option<RackId>,
    place: Option<String>,
}

/// So many days from today on, each with its duties, who is in, and how the rota would share it out.
///
/// # Errors
/// The database can't be read.
pub async fn ahead(db: &mut SqliteConnection, at: DateTime<Utc>, zone: Tz, days: u32) -> Result<Vec<Ahead>, AppError> {
    let today = Moment::new(at, zone).today;
    let last = days_after(today, days.saturating_sub(1));
    let mut duties = coming(&mut *db, at, zone, days).await?;
    let mut on_days = staff::store::rota::between(&mut *db, today, last).await?;
    let mut ahead = Vec::new();
    for day in today.iter_days().take_while(|day| *day <= last) {
        let rest = duties.split_off(duties.partition_point(|coming| coming.coming.day <= day));
        let own = std::mem::replace(&mut duties, rest);
        let team = on_days.remove(&day).unwrap_or_default();
        let cleared = handling::store::people(&mut *db, day).await?;
        let level = |id| cleared.iter().find(|person| person.id == id).map_or(0, |person| person.level);
        let people: Vec<rota::Person> = team
            .iter()
            .map(|on| rota::Person {
                id: on.member.to_string(),
                clearance: u8::try_from(level(on.member)).unwrap_or(0),
                minutes: on.minutes,
                present: on.present,
            })
            .collect();
        let work: Vec<ComingWork> = own.iter().map(work).collect();
        let shared = share_coming(&people, &work).map_err(|error| AppError::Internal(error.into()))?;
        let on_day = |on: staff::model::OnDay| OnComingDay {
            member: on.member,
            name: on.name,
            minutes: if on.present { on.minutes } else { 0 },
            why_not: on.why_not,
        };
        ahead.push(Ahead { day, duties: own, people: team.into_iter().map(on_day).collect(), shared });
    }
    Ok(ahead)
}

fn work(coming: &Coming) -> ComingWork {
    let duty = &coming.coming.duty;
    ComingWork {
        label: format!("{} {}", duty.kind, coming.label),
        rack: coming.rack.map_or_else(String::new, |rack| rack.to_string()),
        minutes: coming.coming.expected * f64::from(duty.minutes),
        required_clearance: duty.clearance,
        people: if duty.persons > 1 { 2 } else { 1 },
    }
}

/// The duties of so many days from today on, by day and in walking order of their racks.
///
/// # Errors
/// The database can't be read.
pub async fn coming(db: &mut SqliteConnection, at: DateTime<Utc>, zone: Tz, days: u32) -> Result<Vec<Coming>, AppError> {
    let moment = Moment::new(at, zone);
    let subjects = gather(db, Scope::House, moment).await?.subjects;
    let table = handling::store::exposure_table(&mut *db).await?;
    let rules = SiteRules { zone, ..SiteRules::default() };
    let share = left_in(&mut *db, moment.today).await?;
    let standing = standing(db).await?;
    let duties = look_ahead(moment.today, days, &subjects, &rules, &table, share);
    let mut coming: Vec<(usize, Coming)> = duties
        .into_iter()
        .map(|duty| {
            let found = standing.get(&duty.duty.subject);
            let (order, standing) = found.map_or((usize::MAX, None), |(order, standing)| (*order, Some(standing)));
            let known = |of: fn(&Standing) -> String| standing.map_or_else(String::new, of);
            let coming = Coming {
                label: known(|standing| standing.label.clone()),
                species: known(|standing| standing.species.clone()),
                rack: standing.and_then(|standing| standing.rack_id),
                place: standing.and_then(|standing| standing.place.clone()).unwrap_or_else(|| "no place".to_owned()),
                coming: duty,
            };
            (order, coming)
        })
        .collect();
    coming.sort_by_key(|(order, coming)| (coming.coming.day, *order));
    Ok(coming.into_iter().map(|(_, coming)| coming).collect())
}

/// Every subject with its place, and its number in walking order.
async fn standing(db: &mut SqliteConnection) -> Result<HashMap<SubjectKey, (usize, Standing)>, AppError> {
    let rows: Vec<Standing> = sqlx::query_as(
        "SELECT subject, standing.id, standing.label, species.accepted_name AS species, place.rack_id, place.room_name || ' · ' || place.rack_name AS place
         FROM (SELECT 'animal' AS subject, id, tag AS label, species_id, shelf_id, position FROM animal WHERE status = 'alive'
               UNION ALL SELECT 'cohort', id, code, species_id, shelf_id, position FROM cohort
               UNION ALL SELECT 'sac', sac.id, 'Sac ' || sac.id, sac.species_id, COALESCE(sac.shelf_id, dam.shelf_id),
                                COALESCE(sac.position, dam.position)
                         FROM sac LEFT JOIN animal AS dam ON dam.id = sac.dam_id WHERE sac.state = 'incubating') AS standing
         JOIN species ON species.id = standing.species_id
         LEFT JOIN place ON place.shelf_id = standing.shelf_id
         ORDER BY place.shelf_id IS NULL, room_order, room_name, rack_order, rack_name, shelf_number, position, standing.label",
    )
    .fetch_all(db)
    .await?;
    let key = |row: &Standing| row.subject.parse::<SubjectKind>().ok().map(|kind| SubjectKey { kind, id: row.id });
    Ok(rows.into_iter().enumerate().filter_map(|(order, row)| Some((key(&row)?, (order, row)))).collect())
}

/// How often prey is left in, from the first entries of the last half year's meals.
async fn left_in(db: &mut SqliteConnection, today: NaiveDate) -> Result<LeftIn, AppError> {
    let since = today.checked_sub_days(chrono::Days::new(DAYS_BACK)).unwrap_or(today);
    let (animals, of_animals, cohorts, of_cohorts): (u32, u32, u32, u32) = sqlx::query_as(
        "SELECT one.offered, one.left_in, many.offered, many.left_in
         FROM (SELECT COUNT(*) AS offered, COALESCE(SUM(outcome = 'left-in'), 0) AS left_in
               FROM meal WHERE corrects_id IS NULL AND day >= ?1) AS one,
              (SELECT COUNT(*) AS offered, COALESCE(SUM(left_in > 0), 0) AS left_in
               FROM cohort_meal WHERE corrects_id IS NULL AND day >= ?1) AS many",
    )
    .bind(since)
    .fetch_one(db)
    .await?;
    Ok(LeftIn { animals: left_in_share(animals, of_animals), cohorts: left_in_share(cohorts, of_cohorts) })
}
