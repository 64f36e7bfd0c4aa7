//! Who is given which duty, and why not.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::read::{open, require};
use crate::handling;
use crate::house::errors::AppError;
use crate::house::ids::{DutyId, MemberId, RackId};
use crate::house::write::Write;
use crate::reckoning::who_may::{Part, level_for};
use crate::reckoning::words::DutyKind;
use crate::rounds::model::share::Hands;
use crate::rounds::model::{Duty, DutyState, LeftOut, Shared};
use crate::staff;

/// What a person lacks for a duty on a day, as a sentence; none when they may.
///
/// # Errors
/// The database can't be read.
pub async fn shortfall(db: &mut SqliteConnection, member: MemberId, duty: &Duty, today: NaiveDate) -> Result<Option<String>, AppError> {
    lacks(db, member, duty, Part::First, today).await
}

/// What a person lacks for being the second of a duty on a day, as a sentence; none when they may, and for a duty of one.
///
/// # Errors
/// The database can't be read.
pub async fn second_shortfall(
    db: &mut SqliteConnection,
    member: MemberId,
    duty: &Duty,
    today: NaiveDate,
) -> Result<Option<String>, AppError> {
    lacks(db, member, duty, Part::Second, today).await
}

async fn lacks(db: &mut SqliteConnection, member: MemberId, duty: &Duty, part: Part, today: NaiveDate) -> Result<Option<String>, AppError> {
    let missing = handling::store::lacking(db, member, duty.asked(), part, today).await?;
    let needs = level_for(duty.asked(), part).unwrap_or(0);
    Ok(missing.map(|missing| match (part, needs) {
        (_, 0) => format!("{} is not for everybody: {missing}.", duty.name()),
        (Part::First, _) => format!("{} needs clearance {needs}, and {missing}.", duty.name()),
        (Part::Second, _) => format!("The second person of {} needs clearance {needs}, and {missing}.", duty.name()),
    }))
}

/// Why a duty can't change hands just now: people and a time are reserved for it. None for any other.
pub(super) async fn reserved(db: &mut SqliteConnection, duty: &Duty, today: NaiveDate) -> Result<Option<String>, AppError> {
    if duty.kind != DutyKind::Rehouse {
        return Ok(None);
    }
    let plan = handling::store::plan_of(db, duty.id).await?.filter(|plan| !plan.has_passed(&today));
    Ok(plan.map(|plan| format!("{} is planned: {}. Cancel the plan on the rehouse board first.", duty.name(), plan.words())))
}

/// Gives an open duty to a person.
///
/// # Errors
/// A 403 that says what they lack; a conflict when the duty has ended; mistakes for somebody who does not look after
/// animals here.
pub async fn assign(write: &mut Write, id: DutyId, member: MemberId) -> Result<Duty, AppError> {
    let duty = require_open(write, id).await?;
    require_keeper(write, member).await?;
    let today = write.today;
    if let Some(missing) = shortfall(write.db(), member, &duty, today).await? {
        return Err(AppError::Forbidden(missing));
    }
    if let Some(why) = reserved(write.db(), &duty, today).await? {
        return Err(AppError::Conflict(why));
    }
    give(write, id, member).await?;
    Ok(duty)
}

/// A duty that stands open.
///
/// # Errors
/// A conflict that says how it ended.
pub(super) async fn require_open(write: &mut Write, id: DutyId) -> Result<Duty, AppError> {
    let duty = require(write.db(), id).await?;
    if duty.state == DutyState::Open {
        return Ok(duty);
    }
    let zone = write.zone;
    Err(AppError::conflict(super::sign_off::how_it_ended(write.db(), &duty, &zone).await?))
}

async fn require_keeper(write: &mut Write, member: MemberId) -> Result<(), AppError> {
    let there = staff::store::active(write.db()).await?;
    let keeps = there.iter().any(|person| person.id == member && person.roles.looks_after());
    if keeps { Ok(()) } else { Err(AppError::refused("member", "Choose somebody who looks after animals here.")) }
}

/// Writes the assignment; a trigger beneath refuses it above the person's clearance.
pub(super) async fn give(write: &mut Write, id: DutyId, member: MemberId) -> Result<(), AppError> {
    let today = write.today;
    sqlx::query("UPDATE duty SET assigned_to = ?, assigned_on = ? WHERE id = ? AND state = 'open'")
        .bind(member)
        .bind(today)
        .bind(id)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Takes an open duty out of anybody's hands, the second's too. Whether it was open.
async fn free(write: &mut Write, id: DutyId) -> Result<bool, AppError> {
    let freed = sqlx::query("UPDATE duty SET assigned_to = NULL, assigned_on = NULL WHERE id = ? AND state = 'open'")
        .bind(id)
        .execute(write.db())
        .await?;
    Ok(freed.rows_affected() > 0)
}

/// Puts an open duty into other hands, where these differ from those that have it. Triggers beneath refuse those who are
/// not cleared.
pub(super) async fn set_hands(write: &mut Write, duty: &Duty, (first, second): Hands) -> Result<(), AppError> {
    let second = second.filter(|_| first.is_some());
    if (first, second) == (duty.assigned_to, duty.second_to) {
        return Ok(());
    }
    match first {
        Some(first) => give(write, duty.id, first).await?,
        None => return free(write, duty.id).await.map(drop),
    }
    sqlx::query("UPDATE duty SET second_to = ? WHERE id = ? AND state = 'open'").bind(second).bind(duty.id).execute(write.db()).await?;
    Ok(())
}

/// Takes an open duty out of anybody's hands.
///
/// # Errors
/// A conflict when it has ended.
pub async fn unassign(write: &mut Write, id: DutyId) -> Result<Duty, AppError> {
    let duty = require(write.db(), id).await?;
    let today = write.today;
    if let Some(why) = reserved(write.db(), &duty, today).await? {
        return Err(AppError::Conflict(why));
    }
    if free(write, id).await? { Ok(duty) } else { Err(AppError::conflict(format!("{} is no longer open.", duty.name()))) }
}

/// Gives a person the open duties of a rack (or those that stand nowhere): the free ones, or those of others too.
/// What is above their clearance stays where it is and is named.
///
/// # Errors
/// Mistakes for somebody who does not look after animals here.
pub async fn assign_rack(write: &mut Write, rack: Option<RackId>, member: MemberId, from_others: bool) -> Result<Shared, AppError> {
    require_keeper(write, member).await?;
    let today = write.today;
    let mut shared = Shared::default();
    for duty in open(write.db()).await?.into_iter().filter(|duty| duty.rack_id == rack) {
        if duty.assigned_to == Some(member) || (duty.assigned_to.is_some() && !from_others) {
            continue;
        }
        let why = match shortfall(write.db(), member, &duty, today).await? {
            None => reserved(write.db(), &duty, today).await?,
            missing => missing,
        };
        match why {
            Some(why) => shared.left_out.push(LeftOut { name: duty.name(), why }),
            None => {
                give(write, duty.id, member).await?;
                shared.given += 1;
            }
        }
    }
    Ok(shared)
}
