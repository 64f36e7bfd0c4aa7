//! Planning: what is due is held against the open duties, and only the difference is written.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use super::facts::{self, Gathered, Moment, Scope, StandingHold};
use crate::handling;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, DutyId, RoomId, SacId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::planner::{PlannedDuty, SiteRules, SubjectKey, SubjectKind, plan};
use crate::reckoning::words::{DutyKind, Exposure};
use crate::rounds::model::Planned;

/// Plans everything again: the whole house for the day of `write`.
///
/// # Errors
/// The database can't be read or written.
pub async fn plan_house(write: &mut Write) -> Result<Planned, AppError> {
    let planned = sync(write, Scope::House).await?;
    let today = write.today;
    sqlx::query("UPDATE site SET planned_on = ?1 WHERE id = 1 AND planned_on IS NOT ?1").bind(today).execute(write.db()).await?;
    Ok(planned)
}

/// Plans one animal again, and the sacs that it guards: after anything that can alter what is due.
///
/// # Errors
/// The database can't be read or written.
pub async fn replan_animal(write: &mut Write, id: AnimalId) -> Result<Planned, AppError> {
    let mut planned = sync(write, Scope::Animal(id)).await?;
    for sac in sacs_with(write.db(), id).await? {
        planned.add(sync(write, Scope::Sac(sac)).await?);
    }
    Ok(planned)
}

/// Plans one cohort again.
///
/// # Errors
/// The database can't be read or written.
pub async fn replan_cohort(write: &mut Write, id: CohortId) -> Result<Planned, AppError> {
    sync(write, Scope::Cohort(id)).await
}

/// Plans one sac again, and its dam, who is not fed while she guards it.
///
/// # Errors
/// The database can't be read or written.
pub async fn replan_sac(write: &mut Write, id: SacId) -> Result<Planned, AppError> {
    let mut planned = sync(write, Scope::Sac(id)).await?;
    let dam: Option<AnimalId> =
        sqlx::query_scalar("SELECT dam_id FROM sac WHERE id = ? AND dam_id IS NOT NULL").bind(id).fetch_optional(write.db()).await?;
    if let Some(dam) = dam {
        planned.add(sync(write, Scope::Animal(dam)).await?);
    }
    Ok(planned)
}

/// Plans one room again: after a reading of its climate.
///
/// # Errors
/// The database can't be read or written.
pub async fn replan_room(write: &mut Write, id: RoomId) -> Result<Planned, AppError> {
    sync(write, Scope::Room(id)).await
}

/// The scope of one subject.
pub(super) fn scope_of(subject: SubjectKey) -> Scope {
    match subject.kind {
        SubjectKind::Animal => Scope::Animal(AnimalId(subject.id)),
        SubjectKind::Cohort => Scope::Cohort(CohortId(subject.id)),
        SubjectKind::Sac => Scope::Sac(SacId(subject.id)),
        SubjectKind::Room => Scope::Room(RoomId(subject.id)),
    }
}

/// Plans the subject of a duty again.
pub(super) async fn replan_subject(write: &mut Write, subject: SubjectKey) -> Result<Planned, AppError> {
    match subject.kind {
        SubjectKind::Animal => replan_animal(write, AnimalId(subject.id)).await,
        SubjectKind::Cohort => replan_cohort(write, CohortId(subject.id)).await,
        SubjectKind::Sac => replan_sac(write, SacId(subject.id)).await,
        SubjectKind::Room => replan_room(write, RoomId(subject.id)).await,
    }
}

/// The last local day that was planned as a whole.
///
/// # Errors
/// The database can't be read.
pub async fn planned_on(db: &mut SqliteConnection) -> Result<Option<NaiveDate>, AppError> {
    Ok(sqlx::query_scalar("SELECT planned_on FROM site WHERE id = 1").fetch_one(db).await?)
}

/// The animals and cohorts with a held duty whose hold has run out, so that they can be planned again.
///
/// # Errors
/// The database can't be read.
pub async fn released(db: &mut SqliteConnection, at: DateTime<Utc>) -> Result<Vec<(Option<AnimalId>, Option<CohortId>)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT duty.animal_id, NULL AS cohort_id FROM duty JOIN hold ON hold.animal_id = duty.animal_id
         WHERE duty.state = 'open' AND duty.animal_id IS NOT NULL AND duty.held IS NOT NULL AND hold.lifted_at IS NULL AND hold.until_at <= ?1
         UNION
         SELECT NULL, duty.cohort_id FROM duty JOIN hold ON hold.cohort_id = duty.cohort_id
         WHERE duty.state = 'open' AND duty.cohort_id IS NOT NULL AND duty.held IS NOT NULL AND hold.lifted_at IS NULL AND hold.until_at <= ?1",
    )
    .bind(at)
    .fetch_all(db)
    .await?)
}

async fn sacs_with(db: &mut SqliteConnection, dam: AnimalId) -> Result<Vec<SacId>, AppError> {
    Ok(sqlx::query_scalar("SELECT id FROM sac WHERE state = 'incubating' AND dam_id = ?").bind(dam).fetch_all(db).await?)
}

/// Plans a scope and writes what differs from the open duties in it.
async fn sync(write: &mut Write, scope: Scope) -> Result<Planned, AppError> {
    let moment = Moment { at: write.at, today: write.today, zone: write.zone };
    let gathered = facts::gather(write.db(), scope, moment).await?;
    let table = handling::store::exposure_table(write.db()).await?;
    let rules = SiteRules { zone: moment.zone, ..SiteRules::default() };
    let mut wanted = plan(moment.today, &gathered.subjects, &rules, &table);
    name_holds(&mut wanted, &gathered, moment);
    let postponed = postponed(write.db(), scope, moment.today).await?;
    let mut open = open_duties(write.db(), scope).await?;
    let mut planned = Planned::default();
    for duty in wanted {
        let key = (duty.subject, duty.kind);
        match open.remove(&key) {
            // What could not be done today stands open again tomorrow.
            None if postponed.contains(&key) => {}
            None => {
                insert(write, &duty).await?;
                planned.opened += 1;
            }
            Some(standing) if standing.differs(&duty) => {
                update(write, standing.id, &duty).await?;
                planned.changed += 1;
            }
            Some(_) => {}
        }
    }
    for duty in open.into_values() {
        sqlx::query("UPDATE duty SET state = 'dropped' WHERE id = ?").bind(duty.id).execute(write.db()).await?;
        planned.dropped += 1;
    }
    Ok(planned)
}

/// Says of a held duty until what hour it waits.
fn name_holds(wanted: &mut [PlannedDuty], gathered: &Gathered, moment: Moment) {
    for duty in wanted.iter_mut().filter(|duty| duty.held.is_some()) {
        duty.held = name_hold(gathered, duty.subject, duty.exposure, moment).or(duty.held.take());
    }
}

/// The hold that stands longest on a subject for an exposure, in words, with its hour.
pub(super) fn name_hold(gathered: &Gathered, subject: SubjectKey, exposure: Exposure, moment: Moment) -> Option<String> {
    let hold = gathered.holds.get(&subject).and_then(|holds| longest(holds, exposure))?;
    let until =
        hold.until_at.map_or_else(|| "until it is lifted".to_owned(), |until| format!("until {}", text::instant(&until, &moment.zone)));
    Some(format!("{} {until} ({})", hold.kind, hold.reason))
}

fn longest(holds: &[StandingHold], exposure: Exposure) -> Option<&StandingHold> {
    holds.iter().filter(|hold| exposure >= hold.blocks).max_by_key(|hold| hold.until_at.unwrap_or(DateTime::<Utc>::MAX_UTC))
}

/// The four columns of a duty's subject, of which one is filled, and its kind.
type SubjectRow = (Option<i64>, Option<i64>, Option<i64>, Option<i64>, DutyKind);

/// The duties of a scope that somebody could not do today.
async fn postponed(db: &mut SqliteConnection, scope: Scope, today: NaiveDate) -> Result<HashSet<(SubjectKey, DutyKind)>, AppError> {
    let rows: Vec<SubjectRow> = sqlx::query_as(
        "SELECT duty.animal_id, duty.cohort_id, duty.sac_id, duty.room_id, duty.kind
         FROM signoff JOIN duty ON duty.id = signoff.duty_id
         WHERE signoff.day = ?1 AND signoff.outcome = 'could-not'
           AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = signoff.id)
           AND (duty.animal_id BETWEEN ?2 AND ?3 OR duty.cohort_id BETWEEN ?4 AND ?5 OR duty.sac_id BETWEEN ?6 AND ?7
                OR duty.room_id BETWEEN ?8 AND ?9)",
    )
    .bind(today)
    .bind(scope.ids(SubjectKind::Animal).0)
    .bind(scope.ids(SubjectKind::Animal).1)
    .bind(scope.ids(SubjectKind::Cohort).0)
    .bind(scope.ids(SubjectKind::Cohort).1)
    .bind(scope.ids(SubjectKind::Sac).0)
    .bind(scope.ids(SubjectKind::Sac).1)
    .bind(scope.ids(SubjectKind::Room).0)
    .bind(scope.ids(SubjectKind::Room).1)
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().filter_map(|(animal, cohort, sac, room, kind)| Some((subject_key([animal, cohort, sac, room])?, kind))).collect())
}

/// The one subject of a duty, from its columns of animal, cohort, sac and room.
fn subject_key(ids: [Option<i64>; 4]) -> Option<SubjectKey> {
    let kinds = [SubjectKind::Animal, SubjectKind::Cohort, SubjectKind::Sac, SubjectKind::Room];
    kinds.into_iter().zip(ids).find_map(|(kind, id)| Some(SubjectKey { kind, id: id? }))
}

/// A duty as it stands open.
#[derive(sqlx::FromRow)]
struct OpenDuty {
    id: DutyId,
    animal_id: Option<i64>,
    cohort_id: Option<i64>,
    sac_id: Option<i64>,
    room_id: Option<i64>,
    kind: DutyKind,
    due_on: NaiveDate,
    late_after: NaiveDate,
    due_at: Option<DateTime<Utc>>,
    seconds: i64,
    exposure: Exposure,
    band: u8,
    clearance: u8,
    persons: u8,
    reason: String,
    held: Option<String>,
}

impl OpenDuty {
    fn differs(&self, planned: &PlannedDuty) -> bool {
        self.due_on != planned.due_on
            || self.late_after != planned.late_after
            || self.due_at != planned.due_at
            || self.seconds != seconds(planned)
            || self.exposure != planned.exposure
            || self.band != planned.band.level()
            || self.clearance != planned.clearance
            || self.persons != planned.persons
            || self.reason != planned.reason
            || self.held != planned.held
    }
}

async fn open_duties(db: &mut SqliteConnection, scope: Scope) -> Result<HashMap<(SubjectKey, DutyKind), OpenDuty>, AppError> {
    let rows: Vec<OpenDuty> = sqlx::query_as(
        "SELECT id, animal_id, cohort_id, sac_id, room_id, kind, due_on, late_after, due_at, seconds, exposure, band, clearance, persons, reason, held
         FROM duty WHERE state = 'open' AND animal_id IS NOT NULL AND animal_id BETWEEN ?1 AND ?2
         UNION ALL
         SELECT id, animal_id, cohort_id, sac_id, room_id, kind, due_on, late_after, due_at, seconds, exposure, band, clearance, persons, reason, held
         FROM duty WHERE state = 'open' AND cohort_id IS NOT NULL AND cohort_id BETWEEN ?3 AND ?4
         UNION ALL
         SELECT id, animal_id, cohort_id, sac_id, room_id, kind, due_on, late_after, due_at, seconds, exposure, band, clearance, persons, reason, held
         FROM duty WHERE state = 'open' AND sac_id IS NOT NULL AND sac_id BETWEEN ?5 AND ?6
         UNION ALL
         SELECT id, animal_id, cohort_id, sac_id, room_id, kind, due_on, late_after, due_at, seconds, exposure, band, clearance, persons, reason, held
         FROM duty WHERE state = 'open' AND room_id IS NOT NULL AND room_id BETWEEN ?7 AND ?8",
    )
    .bind(scope.ids(SubjectKind::Animal).0)
    .bind(scope.ids(SubjectKind::Animal).1)
    .bind(scope.ids(SubjectKind::Cohort).0)
    .bind(scope.ids(SubjectKind::Cohort).1)
    .bind(scope.ids(SubjectKind::Sac).0)
    .bind(scope.ids(SubjectKind::Sac).1)
    .bind(scope.ids(SubjectKind::Room).0)
    .bind(scope.ids(SubjectKind::Room).1)
    .fetch_all(db)
    .await?;
    Ok(rows
        .into_iter()
        .filter_map(|row| Some(((subject_key([row.animal_id, row.cohort_id, row.sac_id, row.room_id])?, row.kind), row)))
        .collect())
}

fn seconds(duty: &PlannedDuty) -> i64 {
    i64::from(duty.minutes) * 60
}

async fn insert(write: &mut Write, duty: &PlannedDuty) -> Result<(), AppError> {
    let of = |kind| (duty.subject.kind == kind).then_some(duty.subject.id);
    let at = write.at;
    sqlx::query(
        "INSERT INTO duty (kind, animal_id, cohort_id, sac_id, room_id, due_on, late_after, due_at, seconds, exposure, band, clearance, persons,
                           reason, held, planned_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(duty.kind)
    .bind(of(SubjectKind::Animal))
    .bind(of(SubjectKind::Cohort))
    .bind(of(SubjectKind::Sac))
    .bind(of(SubjectKind::Room))
    .bind(duty.due_on)
    .bind(duty.late_after)
    .bind(duty.due_at)
    .bind(seconds(duty))
    .bind(duty.exposure)
    .bind(duty.band.level())
    .bind(duty.clearance)
    .bind(duty.persons)
    .bind(&duty.reason)
    .bind(&duty.held)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}

async fn update(write: &mut Write, id: DutyId, duty: &PlannedDuty) -> Result<(), AppError> {
    sqlx::query(
        "UPDATE duty SET due_on = ?, late_after = ?, due_at = ?, seconds = ?, exposure = ?, band = ?, clearance = ?, persons = ?,
                reason = ?, held = ?
         WHERE id = ? AND state = 'open'",
    )
    .bind(duty.due_on)
    .bind(duty.late_after)
    .bind(duty.due_at)
    .bind(seconds(duty))
    .bind(duty.exposure)
    .bind(duty.band.level())
    .bind(duty.clearance)
    .bind(duty.persons)
    .bind(&duty.reason)
    .bind(&duty.held)
    .bind(id)
    .execute(write.db())
    .await?;
    Ok(())
}
