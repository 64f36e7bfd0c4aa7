//! When somebody turns out not to be in: their duties, and only theirs, go to the others.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::assign::set_hands;
use super::read::open;
use super::share::{at_work, hands};
use crate::handling;
use crate::house::errors::AppError;
use crate::house::ids::{DutyId, MemberId};
use crate::house::write::Write;
use crate::reckoning::rota;
use crate::rounds::model::Duty;
use crate::rounds::model::passing::{PassedOn, Passing};
use crate::rounds::model::share::{AtWork, Hands, asked, can_be_done, keep_pinned, minutes, person};
use crate::rounds::model::why::why_not_passed_on;
use crate::staff;
use crate::staff::model::rota::AbsenceKind;

/// Notes that somebody is not in today after all, and passes their duties on among those who are: what others have stays
/// theirs. What nobody can take is free. Of somebody who is away by the rota, only the duties are passed on.
///
/// # Errors
/// A conflict when they are not in and have no duties; not found for somebody who does not look after animals.
pub async fn not_in(write: &mut Write, member: MemberId, kind: AbsenceKind) -> Result<PassedOn, AppError> {
    let today = write.today;
    let before = staff::store::rota::not_in(write, member, kind).await?;
    let mut all = open(write.db()).await?;
    // A rehouse that is planned for a later day is not of this one.
    let planned = handling::store::standing_plans(write.db()).await?;
    all.retain(|duty| !planned.iter().any(|plan| plan.duty_id == duty.id && plan.day > today));
    let (theirs, others): (Vec<Duty>, Vec<Duty>) =
        all.into_iter().partition(|duty| duty.due_on <= today && [duty.assigned_to, duty.second_to].contains(&Some(member)));
    if let Some(why) = before.why_not.filter(|_| theirs.is_empty()) {
        return Err(AppError::conflict(format!("{} is not in today already ({why}), and has no duties.", before.name)));
    }
    let team = at_work(write.db(), today).await?;
    let given = plan(&team, member, (&theirs, &others), today)?;
    for duty in &theirs {
        set_hands(write, duty, after(duty, member, &given)).await?;
    }
    let team = at_work(write.db(), today).await?;
    let mut passed = PassedOn::default();
    for duty in theirs {
        let passing = passing(duty, member, &given, &team);
        note(write, member, &passing).await?;
        passed.list.push(passing);
    }
    Ok(passed)
}

/// Who takes each of somebody's duties, so that nobody's day is fuller than it must be with all that others have pinned.
fn plan(
    team: &[AtWork],
    member: MemberId,
    (theirs, others): (&[Duty], &[Duty]),
    today: NaiveDate,
) -> Result<BTreeMap<DutyId, Hands>, AppError> {
    let in_today = |id: &MemberId| team.iter().any(|one| one.member == *id && one.present);
    // What two others do together is not touched at all: it only makes their day shorter.
    let (twos, ones): (Vec<&Duty>, Vec<&Duty>) =
        others.iter().filter(|duty| can_be_done(duty, today) && duty.assigned_to.is_some()).partition(|duty| duty.takes_two());
    let stays = |id: &MemberId| *id != member && in_today(id);
    let partner = |duty: &Duty| [duty.assigned_to, duty.second_to].into_iter().flatten().find(stays);
    let mut duties: Vec<rota::Duty> = ones.iter().map(|duty| asked(duty, today, duty.assigned_to.filter(in_today))).collect();
    duties.retain(|duty| duty.pinned_to.is_some());
    duties.extend(theirs.iter().filter(|duty| can_be_done(duty, today)).map(|duty| asked(duty, today, partner(duty))));
    keep_pinned(&mut duties);
    let sum = |duties: &[&Duty], id: MemberId| {
        let has = |duty: &&&Duty| [duty.assigned_to, duty.second_to].contains(&Some(id));
        duties.iter().filter(has).map(|duty| minutes(duty)).fold(0, u32::saturating_add)
    };
    let together: Vec<&Duty> = theirs.iter().filter(|duty| can_be_done(duty, today)).collect();
    let people: Vec<rota::Person> = team
        .iter()
        .map(|one| {
            let left = one.left().saturating_sub(sum(&twos, one.member));
            let pinned = sum(&ones, one.member).saturating_add(if one.member == member { 0 } else { sum(&together, one.member) });
            person(one, pinned, left)
        })
        .collect();
    let rota = rota::share_out(&people, &duties).map_err(|error| AppError::Internal(error.into()))?;
    hands(&rota, team)
}

/// Whose a duty is afterwards. Where nobody takes somebody's part, the other of two keeps theirs.
fn after(duty: &Duty, member: MemberId, given: &BTreeMap<DutyId, Hands>) -> Hands {
    match given.get(&duty.id) {
        Some(hands) => *hands,
        None if duty.assigned_to == Some(member) => (None, None),
        None => (duty.assigned_to, None),
    }
}

fn passing(duty: Duty, member: MemberId, given: &BTreeMap<DutyId, Hands>, team: &[AtWork]) -> Passing {
    let (first, second) = given.get(&duty.id).copied().unwrap_or_default();
    let other = [duty.assigned_to, duty.second_to].into_iter().flatten().find(|id| *id != member);
    let to = [first, second].into_iter().flatten().find(|id| Some(*id) != other);
    let name = to.and_then(|id| team.iter().find(|one| one.member == id)).map(|one| one.name.clone());
    let why = if to.is_some() { String::new() } else { why_not_passed_on(&duty, member, team) };
    Passing { label: duty.name(), place: duty.place.clone(), duty: duty.id, minutes: minutes(&duty), to, name, why }
}

async fn note(write: &mut Write, member: MemberId, passing: &Passing) -> Result<(), AppError> {
    let (at, today) = (write.at, write.today);
    sqlx::query("INSERT INTO duty_passed_on (day, from_member, duty_id, to_member, why, at) VALUES (?, ?, ?, ?, ?, ?)")
        .bind(today)
        .bind(member)
        .bind(passing.duty)
        .bind(passing.to)
        .bind(&passing.why)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// What became of somebody's duties when they were last found not to be in on a day.
///
/// # Errors
/// The database can't be read.
pub async fn passed_on(db: &mut SqliteConnection, member: MemberId, day: NaiveDate) -> Result<PassedOn, AppError> {
    let list = sqlx::query_as(
        "SELECT duty_passed_on.duty_id AS duty, duty.kind, duty.label, duty.place, MAX(1, (duty.seconds + 59) / 60) AS minutes,
                to_member, taker.name, why
         FROM duty_passed_on
         JOIN duty_now AS duty ON duty.id = duty_passed_on.duty_id
         LEFT JOIN member AS taker ON taker.id = duty_passed_on.to_member
         WHERE from_member = ?1 AND day = ?2
           AND duty_passed_on.at = (SELECT MAX(latest.at) FROM duty_passed_on AS latest WHERE latest.from_member = ?1 AND latest.day = ?2)
         ORDER BY duty_passed_on.id",
    )
    .bind(member)
    .bind(day)
    .fetch_all(db)
    .await?;
    Ok(PassedOn { list: list.into_iter().map(|row: PassedRow| row.into()).collect() })
}

#[derive(sqlx::FromRow)]
struct PassedRow {
    duty: DutyId,
    kind: crate::reckoning::words::DutyKind,
    label: String,
    place: Option<String>,
    minutes: u32,
    to_member: Option<MemberId>,
    name: Option<String>,
    why: String,
}

impl From<PassedRow> for Passing {
    fn from(row: PassedRow) -> Self {
        let PassedRow { duty, kind, label, place, minutes, to_member: to, name, why } = row;
        Self { label: format!("{kind} {label}"), place, duty, minutes, to, name, why }
    }
}
