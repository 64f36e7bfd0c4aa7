//! Sharing a whole day out among those who are in: the reckoning proposes, this reads for it and writes what it proposes.

use std::collections::{BTreeMap, HashMap};

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::assign::set_hands;
use super::read::open;
use crate::handling;
use crate::house::errors::AppError;
use crate::house::ids::{DutyId, MemberId};
use crate::house::write::Write;
use crate::reckoning::rota::{self, Rota};
use crate::rounds::model::Duty;
use crate::rounds::model::share::{AtWork, Changes, Hands, SharePlan, asked, can_be_done, keep_pinned, minutes, person};
use crate::staff;
use crate::staff::model::rota::Said;

/// Everybody who looks after animals: what they are cleared for on a day, whether they are in and for how long by the
/// rota, and how full their day is with what is theirs.
///
/// # Errors
/// The database can't be read.
pub async fn at_work(db: &mut SqliteConnection, day: NaiveDate) -> Result<Vec<AtWork>, AppError> {
    let team = staff::store::rota::on_day(&mut *db, day).await?;
    let cleared = handling::store::people(&mut *db, day).await?;
    let done = done(&mut *db, day).await?;
    let load = loads(db, day).await?;
    let of = |minutes: &HashMap<MemberId, u32>, id: &MemberId| minutes.get(id).copied().unwrap_or_default();
    Ok(team
        .into_iter()
        .map(|one| {
            let cleared = cleared.iter().find(|person| person.id == one.member);
            AtWork {
                member: one.member,
                level: cleared.map_or(0, |person| person.level),
                suspended: cleared.is_some_and(|person| person.suspended_for.is_some()),
                hours: one.hours(),
                present: one.present,
                minutes: one.minutes,
                done: of(&done, &one.member),
                load: of(&load, &one.member),
                why_not: one.why_not,
                name: one.name,
            }
        })
        .collect())
}

/// Minutes of duties that people signed off on a day, as the first or the second person.
async fn done(db: &mut SqliteConnection, day: NaiveDate) -> Result<HashMap<MemberId, u32>, AppError> {
    let rows: Vec<(MemberId, u32)> = sqlx::query_as(
        "SELECT who, SUM(minutes) FROM (
             SELECT signoff.member_id AS who, MAX(1, (duty.seconds + 59) / 60) AS minutes
             FROM signoff_standing AS signoff JOIN duty ON duty.id = signoff.duty_id WHERE signoff.day = ?1
             UNION ALL
             SELECT signoff.second_id, MAX(1, (duty.seconds + 59) / 60)
             FROM signoff_standing AS signoff JOIN duty ON duty.id = signoff.duty_id WHERE signoff.day = ?1 AND signoff.second_id IS NOT NULL)
         GROUP BY who",
    )
    .bind(day)
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().collect())
}

/// Minutes of the open duties that are people's and can be done on a day.
async fn loads(db: &mut SqliteConnection, day: NaiveDate) -> Result<HashMap<MemberId, u32>, AppError> {
    let rows: Vec<(MemberId, u32)> = sqlx::query_as(
        "SELECT who, SUM(minutes) FROM (
             SELECT assigned_to AS who, MAX(1, (seconds + 59) / 60) AS minutes FROM duty
             WHERE state = 'open' AND assigned_to IS NOT NULL AND held IS NULL AND due_on <= ?1
             UNION ALL
             SELECT second_to, MAX(1, (seconds + 59) / 60) FROM duty
             WHERE state = 'open' AND second_to IS NOT NULL AND held IS NULL AND due_on <= ?1)
         GROUP BY who",
    )
    .bind(day)
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().collect())
}

/// Minutes of the open duties that can be done on a day, each as often as it takes people.
///
/// # Errors
/// The database can't be read.
pub async fn open_minutes(db: &mut SqliteConnection, day: NaiveDate) -> Result<i64, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT COALESCE(SUM(MAX(1, (seconds + 59) / 60) * persons), 0) FROM duty WHERE state = 'open' AND held IS NULL AND due_on <= ?",
    )
    .bind(day)
    .fetch_one(db)
    .await?)
}

/// What sharing out would give: every open duty that can be done today, among those who are in. With `keep`, what
/// people have already stays theirs; otherwise as little is moved as it can.
///
/// # Errors
/// The database can't be read.
pub async fn plan(db: &mut SqliteConnection, today: NaiveDate, people: &[AtWork], keep: bool) -> Result<SharePlan, AppError> {
    // A planned rehouse stays with its people, whose time it takes on its day.
    let mut planned = handling::store::standing_plans(&mut *db).await?;
    planned.retain(|plan| !plan.has_passed(&today));
    let is_planned = |duty: &Duty| planned.iter().any(|plan| plan.duty_id == duty.id);
    let reserved = |id: MemberId| planned.iter().filter(|plan| plan.day == today && plan.is_of(id)).map(|plan| plan.minutes).sum();
    let mut duties = open(db).await?;
    duties.retain(|duty| can_be_done(duty, today) && !is_planned(duty));
    let before: BTreeMap<String, Vec<String>> = duties.iter().filter_map(had_by).collect();
    let stays = |id: &MemberId| keep && people.iter().any(|person| person.member == *id && person.present);
    let pinned = |duty: &Duty| duty.assigned_to.filter(stays);
    let mut asked: Vec<rota::Duty> = duties.iter().map(|duty| asked(duty, today, pinned(duty))).collect();
    keep_pinned(&mut asked);
    let has = |duty: &Duty, id: MemberId| pinned(duty) == Some(id) || (pinned(duty).is_some() && duty.second_to == Some(id));
    let theirs = |id: MemberId| duties.iter().filter(|duty| has(duty, id)).map(minutes).fold(0, u32::saturating_add);
    let team: Vec<rota::Person> =
        people.iter().map(|one| person(one, theirs(one.member), one.left().saturating_sub(reserved(one.member)))).collect();
    let rota = rota::share_out_near(&team, &asked, &before).map_err(|error| AppError::Internal(error.into()))?;
    let mut hands = hands(&rota, people)?;
    keep_order(&mut hands, &duties, people);
    let people = people.iter().map(|one| AtWork { load: load(&rota, one.member), ..one.clone() }).collect();
    Ok(SharePlan { rota, duties, hands, people })
}

/// The same two people stay in the order in which they are, where the first may do it.
fn keep_order(hands: &mut BTreeMap<DutyId, Hands>, duties: &[Duty], people: &[AtWork]) {
    let may = |id: MemberId, duty: &Duty| people.iter().any(|person| person.member == id && person.level >= duty.clearance);
    for duty in duties {
        let (Some(first), Some(second)) = (duty.assigned_to, duty.second_to) else { continue };
        if let Some(now) = hands.get_mut(&duty.id).filter(|now| **now == (Some(second), Some(first)) && may(first, duty)) {
            *now = (Some(first), Some(second));
        }
    }
}

fn load(rota: &Rota, member: MemberId) -> u32 {
    let id = member.to_string();
    rota.loads.iter().find(|load| load.person == id).map_or(0, |load| u32::try_from(load.minutes).unwrap_or(u32::MAX))
}

fn had_by(duty: &Duty) -> Option<(String, Vec<String>)> {
    let people: Vec<String> = [duty.assigned_to, duty.second_to].into_iter().flatten().map(|id| id.to_string()).collect();
    (!people.is_empty()).then(|| (duty.id.to_string(), people))
}

/// Writes who is in where that is otherwise than the rota has it, and gives out what was planned.
///
/// # Errors
/// The database can't be written, or its triggers refuse somebody who is not cleared.
pub async fn give_out(write: &mut Write, known: &[AtWork], plan: &SharePlan) -> Result<Changes, AppError> {
    let today = write.today;
    for (known, person) in known.iter().zip(&plan.people) {
        if (known.present, known.minutes) != (person.present, person.minutes) {
            let said = Said { present: person.present, minutes: person.minutes };
            staff::store::rota::say(write, today, person.member, said).await?;
        }
    }
    // Whose clearances rest takes part in nothing that asks for one, also not as the second.
    let rests = |id: &MemberId| plan.people.iter().any(|person| person.member == *id && person.suspended);
    for duty in &plan.duties {
        let (first, second) = plan.hands(duty.id);
        set_hands(write, duty, (first, second.filter(|second| duty.clearance == 0 || !rests(second)))).await?;
    }
    Ok(plan.changes())
}

/// Who is to have each duty. Of two the one with the higher clearance comes first: the other may have one level less.
pub(super) fn hands(rota: &Rota, team: &[AtWork]) -> Result<BTreeMap<DutyId, Hands>, AppError> {
    let level = |id: &MemberId| team.iter().find(|person| person.member == *id).map_or(0, |person| person.level);
    let mut hands = BTreeMap::new();
    for given in &rota.assignments {
        let mut people: Vec<MemberId> = given.people.iter().map(|id| id.parse()).collect::<Result<_, _>>().map_err(anyhow::Error::from)?;
        people.sort_by_key(|id| std::cmp::Reverse(level(id)));
        let duty: DutyId = given.duty.parse().map_err(anyhow::Error::from)?;
        hands.insert(duty, (people.first().copied(), people.get(1).copied()));
    }
    Ok(hands)
}
