//! Why a duty is due, or not: the planner's own account of one animal, cohort or sac.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::facts::{self, Moment};
use super::plan::{name_hold, scope_of};
use crate::handling;
use crate::house::clock::local_date;
use crate::house::errors::AppError;
use crate::reckoning::planner::{Outlook, SiteRules, SubjectKey, SubjectKind, explain};
use crate::rounds::model::Duty;

/// Where every kind of duty stands for a subject; nothing when it has left or ended.
///
/// # Errors
/// The database can't be read.
pub async fn outlook(db: &mut SqliteConnection, key: SubjectKey, at: DateTime<Utc>, zone: Tz) -> Result<Vec<Outlook>, AppError> {
    let moment = Moment { at, today: local_date(zone, at), zone };
    let gathered = facts::gather(&mut *db, scope_of(key), moment).await?;
    let table = handling::store::exposure_table(db).await?;
    let rules = SiteRules { zone, ..SiteRules::default() };
    let Some(subject) = gathered.subjects.iter().find(|subject| subject.key() == key) else { return Ok(Vec::new()) };
    let mut told = explain(moment.today, subject, &rules, &table);
    for duty in told.iter_mut().filter(|duty| duty.held.is_some()) {
        let named = duty.exposure.and_then(|exposure| name_hold(&gathered, key, exposure, moment));
        duty.held = named.or(duty.held.take());
    }
    Ok(told)
}

/// The open duties of a subject.
///
/// # Errors
/// The database can't be read.
pub async fn open_of_subject(db: &mut SqliteConnection, key: SubjectKey) -> Result<Vec<Duty>, AppError> {
    let of = |kind| (key.kind == kind).then_some(key.id);
    Ok(sqlx::query_as(
        "SELECT * FROM duty_now WHERE state = 'open' AND animal_id IS ?1 AND cohort_id IS ?2 AND sac_id IS ?3 AND room_id IS ?4 ORDER BY id",
    )
    .bind(of(SubjectKind::Animal))
    .bind(of(SubjectKind::Cohort))
    .bind(of(SubjectKind::Sac))
    .bind(of(SubjectKind::Room))
    .fetch_all(db)
    .await?)
}
