//! SQL of working times: usual weeks, absences, and what was said of one day.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{AbsenceId, MemberId, PatternId};
use crate::house::text;
use crate::house::write::Write;
use crate::staff::model::rota::{Absence, AbsenceKind, Hours, NewAbsence, Said, Times, Week, WorkPattern};
use crate::staff::model::{MemberRow, OnDay};

/// Everybody who looks after animals on one day, by name.
///
/// # Errors
/// The database can't be read.
pub async fn on_day(db: &mut SqliteConnection, day: NaiveDate) -> Result<Vec<OnDay>, AppError> {
    Ok(between(db, day, day).await?.remove(&day).unwrap_or_default())
}

/// Everybody who looks after animals on each day of a span, both ends included, by name.
///
/// # Errors
/// The database can't be read.
pub async fn between(db: &mut SqliteConnection, from: NaiveDate, to: NaiveDate) -> Result<BTreeMap<NaiveDate, Vec<OnDay>>, AppError> {
    let mut team = super::active(&mut *db).await?;
    team.retain(|member| member.roles.looks_after());
    let mut times: HashMap<MemberId, Times> = HashMap::new();
    for pattern in patterns(&mut *db).await? {
        times.entry(pattern.member).or_default().patterns.push(pattern);
    }
    for absence in absences_between(&mut *db, from, to).await? {
        times.entry(absence.member_id).or_default().absences.push(absence);
    }
    let said = said_between(db, from, to).await?;
    let none = Times::default();
    let on = |member: &MemberRow, day: NaiveDate| {
        let who = (member.id, member.name.as_str());
        times.get(&member.id).unwrap_or(&none).on(who, day, said.get(&(day, member.id)).copied())
    };
    let days = from.iter_days().take_while(|day| *day <= to);
    Ok(days.map(|day| (day, team.iter().map(|member| on(member, day)).collect())).collect())
}

#[derive(sqlx::FromRow)]
struct PatternRow {
    id: PatternId,
    member_id: MemberId,
    valid_from: NaiveDate,
    entered_by: Option<String>,
    entered_at: DateTime<Utc>,
    weekday: Option<i64>,
    starts: Option<u32>,
    ends: Option<u32>,
    minutes: Option<u32>,
}

/// Every usual week of everybody, each person's oldest first.
async fn patterns(db: &mut SqliteConnection) -> Result<Vec<WorkPattern>, AppError> {
    let rows: Vec<PatternRow> = sqlx::query_as(
        "SELECT work_pattern.id, work_pattern.member_id, valid_from, member.name AS entered_by, entered_at, weekday, starts, ends, minutes
         FROM work_pattern
         LEFT JOIN work_day ON work_day.pattern_id = work_pattern.id
         LEFT JOIN member ON member.id = work_pattern.entered_by
         ORDER BY work_pattern.member_id, valid_from, work_pattern.id",
    )
    .fetch_all(db)
    .await?;
    Ok(weeks(rows))
}

/// The usual weeks of one person, the oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn patterns_of(db: &mut SqliteConnection, member: MemberId) -> Result<Vec<WorkPattern>, AppError> {
    let rows: Vec<PatternRow> = sqlx::query_as(
        "SELECT work_pattern.id, work_pattern.member_id, valid_from, member.name AS entered_by, entered_at, weekday, starts, ends, minutes
         FROM work_pattern
         LEFT JOIN work_day ON work_day.pattern_id = work_pattern.id
         LEFT JOIN member ON member.id = work_pattern.entered_by
         WHERE work_pattern.member_id = ? ORDER BY valid_from, work_pattern.id",
    )
    .bind(member)
    .fetch_all(db)
    .await?;
    Ok(weeks(rows))
}

fn weeks(rows: Vec<PatternRow>) -> Vec<WorkPattern> {
    let mut patterns: Vec<WorkPattern> = Vec::new();
    for row in rows {
        if patterns.last().is_none_or(|last| last.id != row.id) {
            let PatternRow { id, member_id: member, valid_from, entered_by, entered_at, .. } = row;
            patterns.push(WorkPattern { id, member, valid_from, week: Week::default(), entered_by, entered_at });
        }
        let hours = row.starts.zip(row.ends).zip(row.minutes).map(|((starts, ends), minutes)| Hours { starts, ends, minutes });
        let place = row.weekday.and_then(|weekday| usize::try_from(weekday - 1).ok());
        if let Some(day) = place.and_then(|place| patterns.last_mut()?.week.get_mut(place)) {
            *day = hours;
        }
    }
    patterns
}

/// Writes somebody's usual week from a day on.
///
/// # Errors
/// The database can't be written, or hours that its constraints refuse.
pub async fn set_week(write: &mut Write, member: MemberId, valid_from: NaiveDate, week: &Week) -> Result<PatternId, AppError> {
    let (who, at) = (write.who, write.at);
    let id: PatternId =
        sqlx::query_scalar("INSERT INTO work_pattern (member_id, valid_from, entered_by, entered_at) VALUES (?, ?, ?, ?) RETURNING id")
            .bind(member)
            .bind(valid_from)
            .bind(who)
            .bind(at)
            .fetch_one(write.db())
            .await?;
    for (weekday, hours) in (1_i64..).zip(week) {
        let Some(hours) = hours else { continue };
        sqlx::query("INSERT INTO work_day (pattern_id, weekday, starts, ends, minutes) VALUES (?, ?, ?, ?, ?)")
            .bind(id)
            .bind(weekday)
            .bind(hours.starts)
            .bind(hours.ends)
            .bind(hours.minutes)
            .execute(write.db())
            .await?;
    }
    Ok(id)
}

/// The absences that stand and have a day in common with a span of days, the earliest first.
///
/// # Errors
/// The database can't be read.
pub async fn absences_between(db: &mut SqliteConnection, from: NaiveDate, to: NaiveDate) -> Result<Vec<Absence>, AppError> {
    Ok(sqlx::query_as(
        "SELECT absence.id, absence.member_id, first_day, last_day, kind, note, enterer.name AS entered_by, entered_at,
                NULL AS cancelled_by, cancelled_at
         FROM absence LEFT JOIN member AS enterer ON enterer.id = absence.entered_by
         WHERE cancelled_at IS NULL AND last_day >= ? AND first_day <= ? ORDER BY first_day, absence.id",
    )
    .bind(from)
    .bind(to)
    .fetch_all(db)
    .await?)
}

/// The absences of one person that end on a day or later, cancelled ones too, the latest first.
///
/// # Errors
/// The database can't be read.
pub async fn absences_of(db: &mut SqliteConnection, member: MemberId, since: NaiveDate) -> Result<Vec<Absence>, AppError> {
    Ok(sqlx::query_as(
        "SELECT absence.id, absence.member_id, first_day, last_day, kind, note, enterer.name AS entered_by, entered_at,
                canceller.name AS cancelled_by, cancelled_at
         FROM absence
         LEFT JOIN member AS enterer ON enterer.id = absence.entered_by
         LEFT JOIN member AS canceller ON canceller.id = absence.cancelled_by
         WHERE absence.member_id = ? AND last_day >= ? ORDER BY last_day DESC, absence.id DESC",
    )
    .bind(member)
    .bind(since)
    .fetch_all(db)
    .await?)
}

/// One absence, whether it stands or not.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_absence(db: &mut SqliteConnection, id: AbsenceId) -> Result<Absence, AppError> {
    Ok(sqlx::query_as(
        "SELECT absence.id, absence.member_id, first_day, last_day, kind, note, enterer.name AS entered_by, entered_at,
                canceller.name AS cancelled_by, cancelled_at
         FROM absence
         LEFT JOIN member AS enterer ON enterer.id = absence.entered_by
         LEFT JOIN member AS canceller ON canceller.id = absence.cancelled_by
         WHERE absence.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// Notes an absence. What was said before of single days in it, from today on, no longer counts.
///
/// # Errors
/// Mistakes when they are away on some of these days already.
pub async fn add_absence(write: &mut Write, new: &NewAbsence) -> Result<AbsenceId, AppError> {
    let (who, at, today) = (write.who, write.at, write.today);
    let others = absences_of(write.db(), new.member, new.first_day).await?;
    if let Some(other) = others.iter().rfind(|other| other.overlaps(new.first_day, new.last_day)) {
        let (first, last) = (text::day(&other.first_day), text::day(&other.last_day));
        let days = if first == last { first } else { format!("from {first} to {last}") };
        return Err(AppError::refused(
            "first_day",
            format!("They are {} already, {days}. Cancel that first, or choose other days.", other.kind),
        ));
    }
    sqlx::query("DELETE FROM at_work WHERE member_id = ? AND day BETWEEN MAX(?, ?) AND ?")
        .bind(new.member)
        .bind(new.first_day)
        .bind(today)
        .bind(new.last_day)
        .execute(write.db())
        .await?;
    Ok(sqlx::query_scalar(
        "INSERT INTO absence (member_id, first_day, last_day, kind, note, entered_by, entered_at) VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.member)
    .bind(new.first_day)
    .bind(new.last_day)
    .bind(new.kind)
    .bind(&new.note)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Cancels an absence.
///
/// # Errors
/// A conflict when it was cancelled before.
pub async fn cancel_absence(write: &mut Write, id: AbsenceId) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let cancelled = sqlx::query("UPDATE absence SET cancelled_at = ?, cancelled_by = ? WHERE id = ? AND cancelled_at IS NULL")
        .bind(at)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    if cancelled.rows_affected() == 0 {
        return Err(AppError::conflict("This absence has been cancelled already."));
    }
    Ok(())
}

async fn said_between(db: &mut SqliteConnection, from: NaiveDate, to: NaiveDate) -> Result<HashMap<(NaiveDate, MemberId), Said>, AppError> {
    let rows: Vec<(NaiveDate, MemberId, bool, u32)> =
        sqlx::query_as("SELECT day, member_id, present, minutes FROM at_work WHERE day BETWEEN ? AND ?")
            .bind(from)
            .bind(to)
            .fetch_all(db)
            .await?;
    Ok(rows.into_iter().map(|(day, member, present, minutes)| ((day, member), Said { present, minutes })).collect())
}

/// Says of one person on one day whether they are in and for how many minutes of duties, over week and absence.
///
/// # Errors
/// The database can't be written.
pub async fn say(write: &mut Write, day: NaiveDate, member: MemberId, said: Said) -> Result<(), AppError> {
    sqlx::query(
        "INSERT INTO at_work (day, member_id, present, minutes) VALUES (?, ?, ?, ?)
         ON CONFLICT (day, member_id) DO UPDATE SET present = excluded.present, minutes = excluded.minutes",
    )
    .bind(day)
    .bind(member)
    .bind(said.present)
    .bind(said.minutes)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Takes back what was said of one person on one day: week and absences count again.
///
/// # Errors
/// The database can't be written.
pub async fn unsay(write: &mut Write, day: NaiveDate, member: MemberId) -> Result<(), AppError> {
    sqlx::query("DELETE FROM at_work WHERE day = ? AND member_id = ?").bind(day).bind(member).execute(write.db()).await?;
    Ok(())
}

/// Notes that somebody who counts as in today is not: an absence of this one day. Where a longer absence covers it already,
/// what was said over that is taken back. Gives how they stood before; nothing is noted of somebody who was not in.
///
/// # Errors
/// Not found for somebody who does not look after animals.
pub async fn not_in(write: &mut Write, member: MemberId, kind: AbsenceKind) -> Result<OnDay, AppError> {
    let today = write.today;
    let person = require_on_day(write, member).await?;
    if !person.present {
        return Ok(person);
    }
    unsay(write, today, member).await?;
    let covered = absences_of(write.db(), member, today).await?.iter().any(|absence| absence.covers(today));
    if !covered {
        let new = NewAbsence { member, first_day: today, last_day: today, kind, note: String::new() };
        add_absence(write, &new).await?;
    }
    Ok(person)
}

/// Notes that somebody who counts as away today is in after all: an absence of this one day is cancelled; over a longer one,
/// and over their week, it is said of today that they are in.
///
/// # Errors
/// A conflict when they are in today as it is; not found for somebody who does not look after animals.
pub async fn in_after_all(write: &mut Write, member: MemberId) -> Result<OnDay, AppError> {
    let today = write.today;
    let person = require_on_day(write, member).await?;
    if person.present {
        return Err(AppError::conflict(format!("{} is in today already.", person.name)));
    }
    unsay(write, today, member).await?;
    let absences = absences_of(write.db(), member, today).await?;
    if let Some(absence) = absences.iter().find(|absence| absence.covers(today) && absence.first_day == absence.last_day) {
        cancel_absence(write, absence.id).await?;
    }
    let after = require_on_day(write, member).await?;
    if !after.present {
        say(write, today, member, Said { present: true, minutes: after.minutes }).await?;
    }
    require_on_day(write, member).await
}

async fn require_on_day(write: &mut Write, member: MemberId) -> Result<OnDay, AppError> {
    let today = write.today;
    on_day(write.db(), today).await?.into_iter().find(|person| person.member == member).ok_or(AppError::NotFound)
}
