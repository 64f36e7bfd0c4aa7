//! Sharing a whole day out among those who are in: the reckoning proposes, this reads for it and writes what it proposes.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::assign::give;
use super::read::open;
use crate::handling;
use crate::house::errors::AppError;
use crate::house::ids::{DutyId, MemberId};
use crate::house::write::Write;
use crate::reckoning::rota::{self, Rota};
use crate::reckoning::words::DutyKind;
use crate::rounds::model::Duty;
use crate::rounds::model::share::{AtWork, SharePlan};
use crate::staff;

/// Minutes that somebody is taken to have who has not been shared anything yet.
const USUAL_MINUTES: u32 = 240;

/// Everybody who looks after animals, with what they are cleared for, whether they are in on a day and for how long: as
/// was last said of that day, else in and for as long as on the last day that was shared out.
///
/// # Errors
/// The database can't be read.
pub async fn at_work(db: &mut SqliteConnection, day: NaiveDate) -> Result<Vec<AtWork>, AppError> {
    let said: Vec<(MemberId, bool, u32)> = sqlx::query_as(
        "SELECT member_id, present OR day <> ?1, minutes FROM at_work AS said
         WHERE day = (SELECT MAX(day) FROM at_work AS latest WHERE latest.member_id = said.member_id AND latest.day <= ?1)",
    )
    .bind(day)
    .fetch_all(&mut *db)
    .await?;
    let team = staff::store::active(&mut *db).await?;
    let cleared = handling::store::people(db, day).await?;
    let keeps = team.into_iter().filter(|member| member.roles.keeper || member.roles.lead || member.roles.owner);
    Ok(keeps
        .map(|member| {
            let known = said.iter().find(|(id, ..)| *id == member.id);
            AtWork {
                member: member.id,
                level: cleared.iter().find(|person| person.id == member.id).map_or(0, |person| person.level),
                name: member.name,
                present: known.is_none_or(|(_, present, _)| *present),
                minutes: known.map_or(USUAL_MINUTES, |(.., minutes)| *minutes),
            }
        })
        .collect())
}

/// What sharing out would give: every open duty that can be done today, among those who are in. With `keep`, what
/// people have already stays theirs; otherwise as little is moved as it can.
///
/// # Errors
/// The database can't be read.
pub async fn plan(db: &mut SqliteConnection, today: NaiveDate, people: &[AtWork], keep: bool) -> Result<SharePlan, AppError> {
    let duties: Vec<Duty> = open(db).await?.into_iter().filter(|duty| duty.held.is_none() && duty.due_on <= today).collect();
    let before: BTreeMap<String, Vec<String>> = duties.iter().filter_map(had_by).collect();
    let asked: Vec<rota::Duty> = duties.iter().map(|duty| asked(duty, today, people, keep)).collect();
    let team: Vec<rota::Person> = people.iter().map(in_today).collect();
    let rota = rota::share_out_near(&team, &asked, &before).map_err(|error| AppError::Internal(error.into()))?;
    Ok(SharePlan { rota, duties })
}

fn had_by(duty: &Duty) -> Option<(String, Vec<String>)> {
    let people: Vec<String> = [duty.assigned_to, duty.second_to].into_iter().flatten().map(|id| id.to_string()).collect();
    (!people.is_empty()).then(|| (duty.id.to_string(), people))
}

fn asked(duty: &Duty, today: NaiveDate, people: &[AtWork], keep: bool) -> rota::Duty {
    let theirs = duty.assigned_to.filter(|id| keep && people.iter().any(|person| person.member == *id && person.present));
    // What can't wait comes before what is late, and what is late before what fell due today (common practice, no source).
    let cannot_wait = matches!(duty.kind, DutyKind::ClearUneaten | DutyKind::SacCheck | DutyKind::SacTurn);
    rota::Duty {
        id: duty.id.to_string(),
        minutes: u32::try_from((duty.seconds + 59) / 60).unwrap_or(u32::MAX).max(1),
        required_clearance: level(duty.clearance),
        people: if duty.persons > 1 { 2 } else { 1 },
        rack: duty.rack_id.map_or_else(String::new, |rack| rack.to_string()),
        urgency: 1 + 2 * u32::from(duty.is_late(&today)) + 4 * u32::from(cannot_wait),
        pinned_to: theirs.map(|id| id.to_string()),
    }
}

fn in_today(person: &AtWork) -> rota::Person {
    rota::Person { id: person.member.to_string(), clearance: level(person.level), minutes: person.minutes, present: person.present }
}

fn level(of: i64) -> u8 {
    u8::try_from(of).unwrap_or(u8::MAX)
}

/// Writes who is in, and gives out what was planned. Gives how many duties changed hands.
///
/// # Errors
/// The database can't be written, or its triggers refuse somebody who is not cleared.
pub async fn give_out(write: &mut Write, people: &[AtWork], plan: &SharePlan) -> Result<u32, AppError> {
    let today = write.today;
    for person in people {
        sqlx::query(
            "INSERT INTO at_work (day, member_id, present, minutes) VALUES (?, ?, ?, ?)
             ON CONFLICT (day, member_id) DO UPDATE SET present = excluded.present, minutes = excluded.minutes",
        )
        .bind(today)
        .bind(person.member)
        .bind(person.present)
        .bind(person.minutes)
        .execute(write.db())
        .await?;
    }
    let wanted = wanted(&plan.rota, people)?;
    let mut moved = 0;
    for duty in &plan.duties {
        let (first, second) = wanted.get(&duty.id).copied().unwrap_or_default();
        if (first, second) == (duty.assigned_to, duty.second_to) {
            continue;
        }
        moved += 1;
        match first {
            Some(first) => give(write, duty.id, first).await?,
            None => free(write, duty.id).await?,
        }
        let with = second.filter(|_| first.is_some());
        sqlx::query("UPDATE duty SET second_to = ? WHERE id = ? AND state = 'open'").bind(with).bind(duty.id).execute(write.db()).await?;
    }
    Ok(moved)
}

async fn free(write: &mut Write, duty: DutyId) -> Result<(), AppError> {
    let freed = sqlx::query("UPDATE duty SET assigned_to = NULL, assigned_on = NULL WHERE id = ? AND state = 'open'");
    freed.bind(duty).execute(write.db()).await?;
    Ok(())
}

type Hands = (Option<MemberId>, Option<MemberId>);

/// Who is to have each duty. Of two the one with the higher clearance comes first: the other may have one level less.
fn wanted(rota: &Rota, team: &[AtWork]) -> Result<BTreeMap<DutyId, Hands>, AppError> {
    let level = |id: &MemberId| team.iter().find(|person| person.member == *id).map_or(0, |person| person.level);
    let mut wanted = BTreeMap::new();
    for given in &rota.assignments {
        let mut hands: Vec<MemberId> = given.people.iter().map(|id| id.parse()).collect::<Result<_, _>>().map_err(anyhow::Error::from)?;
        hands.sort_by_key(|id| std::cmp::Reverse(level(id)));
        let duty: DutyId = given.duty.parse().map_err(anyhow::Error::from)?;
        wanted.insert(duty, (hands.first().copied(), hands.get(1).copied()));
    }
    Ok(wanted)
}
