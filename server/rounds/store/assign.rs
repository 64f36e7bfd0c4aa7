//! Who is given which duty, and why not.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::read::{open, require};
use crate::handling;
use crate::house::errors::AppError;
use crate::house::ids::{DutyId, MemberId, RackId};
use crate::house::text;
use crate::house::write::Write;
use crate::rounds::model::share::Hands;
use crate::rounds::model::{Duty, DutyState, LeftOut, Shared};
use crate::staff;

/// What a person lacks for a duty on a day, as a sentence; none when they may.
///
/// # Errors
/// The database can't be read.
pub async fn shortfall(db: &mut SqliteConnection, member: MemberId, duty: &Duty, today: NaiveDate) -> Result<Option<String>, AppError> {
    if duty.clearance == 0 || handling::store::level_on(db, member, today).await? >= duty.clearance {
        return Ok(None);
    }
    let person = handling::store::person(db, member, today).await?;
    let has = if person.suspended_for.is_some() {
        format!("the clearances of {} rest until a lead has reviewed their incident", person.name)
    } else if person.level > 0 {
        format!("{} holds clearance {}", person.name, person.level)
    } else {
        let past = handling::store::clearances_of(db, member).await?;
        match past
            .iter()
            .filter(|clearance| clearance.level >= duty.clearance && clearance.valid_until < today)
            .max_by_key(|c| c.valid_until)
        {
            Some(ran_out) => format!("the clearance of {} ran out on {}", person.name, text::day(&ran_out.valid_until)),
            None => format!("{} holds none", person.name),
        }
    };
    Ok(Some(format!("{} needs clearance {}, and {has}.", duty.name(), duty.clearance)))
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
        match shortfall(write.db(), member, &duty, today).await? {
            Some(why) => shared.left_out.push(LeftOut { name: duty.name(), why }),
            None => {
                give(write, duty.id, member).await?;
                shared.given += 1;
            }
        }
    }
    Ok(shared)
}
