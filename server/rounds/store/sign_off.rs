//! Signing a duty off: who may, whether it still stands, and one entry for all that it brings.

use sqlx::SqliteConnection;

use super::assign::shortfall;
use super::effects;
use super::plan::replan_subject;
use super::read::{known_of, require, require_signoff, signoff_of};
use super::ready::{When, checklist_of, faults};
use crate::handling;
use crate::house::errors::AppError;
use crate::house::ids::{MemberId, SignoffId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::hazard::{Band, assess};
use crate::reckoning::words::DutyKind;
use crate::rounds::model::{Duty, DutyState, NewSignoff, Outcome, Signed};

/// Signs a duty off for whoever writes, with all that follows from it. The risk is reckoned afresh first, so that a
/// page that has been open for long can't get past it.
///
/// # Errors
/// A conflict when it was done or dropped before, or is held; a 403 without the clearance; mistakes when something is
/// missing. Then nothing was written.
pub async fn sign_off(write: &mut Write, new: &NewSignoff) -> Result<Signed, AppError> {
    let signer = write.who.ok_or_else(|| AppError::forbidden("A duty is signed off by a person."))?;
    let stored = require(write.db(), new.duty).await?;
    still_open(write, &stored).await?;
    let duty = as_risky_as_now(write, stored).await?;
    check(write, signer, &duty, new).await?;
    let id = insert(write, signer, &duty, new).await?;
    let told = effects::apply(write, &duty, new, id).await?;
    replan_subject(write, duty.subject()).await?;
    // What was broken off is planned anew, with whoever has time then.
    if !new.outcome.is_work() && !matches!(new.outcome, Outcome::CouldNot | Outcome::Aborted) {
        hand_on(write, &duty).await?;
    }
    Ok(Signed { id, duty, outcome: new.outcome, told })
}

/// The duty as it stands when its risk is reckoned afresh: planned again when a hold was on it or when it asks for more
/// than it did.
async fn as_risky_as_now(write: &mut Write, stored: Duty) -> Result<Duty, AppError> {
    let (at, zone) = (write.at, write.zone);
    let known = known_of(write.db(), stored.subject(), at, zone).await?;
    let band = known.hazard(stored.subject()).map_or(Band::NONE, |facts| assess(facts).band);
    let required = handling::store::exposure_table(write.db()).await?.required(band, stored.exposure);
    let asks_more = i64::from(required.clearance) > stored.clearance || i64::from(required.persons) > stored.persons;
    if stored.held.is_none() && !asks_more {
        return Ok(stored);
    }
    replan_subject(write, stored.subject()).await?;
    let mut duty = require(write.db(), stored.id).await?;
    still_open(write, &duty).await?;
    duty.clearance = duty.clearance.max(stored.clearance);
    duty.persons = duty.persons.max(stored.persons);
    Ok(duty)
}

/// Refuses a duty that has ended, and says how.
async fn still_open(write: &mut Write, duty: &Duty) -> Result<(), AppError> {
    if duty.state == DutyState::Open {
        return Ok(());
    }
    Err(AppError::conflict(ended(write, duty).await?))
}

/// How a duty that is no longer open ended: who did it, when, and what not to do now.
async fn ended(write: &mut Write, duty: &Duty) -> Result<String, AppError> {
    let zone = write.zone;
    how_it_ended(write.db(), duty, &zone).await
}

/// The same for a page.
///
/// # Errors
/// The database can't be read.
pub async fn how_it_ended(db: &mut SqliteConnection, duty: &Duty, zone: &chrono_tz::Tz) -> Result<String, AppError> {
    let name = duty.name();
    let Some(signed) = signoff_of(db, duty.id).await? else {
        return Ok(format!("{name} is no longer due: something has changed since. Nothing was written; open your round again."));
    };
    let when = text::instant(&signed.at, zone);
    if signed.taken_back {
        return Ok(format!(
            "{name} was signed off by {} on {when} and taken back; a new duty stands in its place. Open your round again.",
            signed.member_name
        ));
    }
    let warning = if duty.kind == DutyKind::Feed { " Do not feed again." } else { "" };
    Ok(format!("{name} was already done by {} on {when}: {}.{warning} Nothing was written.", signed.member_name, signed.outcome))
}

async fn check(write: &mut Write, signer: MemberId, duty: &Duty, new: &NewSignoff) -> Result<(), AppError> {
    if !new.outcome.fits(duty.kind, duty.subject().kind) {
        return Err(AppError::refused(
            "outcome",
            format!("{} can't end as “{}”. Choose one of its own buttons.", duty.name(), new.outcome),
        ));
    }
    if new.outcome == Outcome::CouldNot {
        return if new.note.is_empty() { Err(AppError::refused("why", "Say why it could not be done.")) } else { Ok(()) };
    }
    let (today, when) = (write.today, When { at: write.at, today: write.today, zone: write.zone });
    if let Some(missing) = shortfall(write.db(), signer, duty, today).await? {
        return Err(AppError::Forbidden(format!("{missing} Nothing was written.")));
    }
    if !new.outcome.is_work() {
        return Ok(());
    }
    if let Some(held) = &duty.held {
        return Err(AppError::conflict(format!("{} must wait: {held}. Nothing was written.", duty.name())));
    }
    let mistakes = faults(write.db(), signer, duty, new, when).await?;
    if mistakes.is_empty() { Ok(()) } else { Err(mistakes.into()) }
}

async fn insert(write: &mut Write, signer: MemberId, duty: &Duty, new: &NewSignoff) -> Result<SignoffId, AppError> {
    let (at, today) = (write.at, write.today);
    // Only lines of the list are kept, in the words in which they were ticked.
    let when = When { at, today, zone: write.zone };
    let mut checklist = if new.outcome.is_work() { checklist_of(write.db(), duty, when).await? } else { Vec::new() };
    checklist.retain(|line| new.checklist.contains(line));
    let second = if duty.takes_two() { new.second } else { None };
    Ok(sqlx::query_scalar(
        "INSERT INTO signoff (duty_id, member_id, second_id, at, day, outcome, note, checklist, clearance, persons)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(duty.id)
    .bind(signer)
    .bind(second)
    .bind(at)
    .bind(today)
    .bind(new.outcome)
    .bind(&new.note)
    .bind(checklist.join("\n"))
    .bind(duty.clearance)
    .bind(duty.persons)
    .fetch_one(write.db())
    .await?)
}

/// Gives the duty that now stands in the place of one that was not done to whoever had that one, if they are cleared.
pub(super) async fn hand_on(write: &mut Write, ended: &Duty) -> Result<(), AppError> {
    let Some(member) = ended.assigned_to else { return Ok(()) };
    let next = super::read::open_of(write.db(), ended).await?;
    let Some(next) = next.filter(|next| next.assigned_to.is_none()) else { return Ok(()) };
    let today = write.today;
    if shortfall(write.db(), member, &next, today).await?.is_none() {
        super::assign::give(write, next.id, member).await?;
    }
    Ok(())
}

/// Takes a sign-off back, by whoever made it and soon after: what it brought is struck out, its holds are lifted, and
/// the duty stands open again.
///
/// # Errors
/// A 403 for anybody else; a conflict when it is too late, was done before, or can't be undone.
pub async fn undo(write: &mut Write, id: SignoffId) -> Result<Signed, AppError> {
    let signed = require_signoff(write.db(), id).await?;
    if write.who != Some(signed.member_id) {
        return Err(AppError::forbidden(format!("Only {}, who signed it, can take this back.", signed.member_name)));
    }
    if signed.taken_back {
        return Err(AppError::conflict("This sign-off has been taken back already."));
    }
    if !signed.can_be_undone() {
        return Err(AppError::conflict("This can't be taken back. Put it right on the animal's own page."));
    }
    if write.at - signed.at > chrono::TimeDelta::minutes(super::read::UNDO_MINUTES) {
        return Err(AppError::conflict(format!(
            "A sign-off can be taken back within {} minutes. Put it right on the page of {} instead.",
            super::read::UNDO_MINUTES,
            signed.label
        )));
    }
    let duty = require(write.db(), signed.duty_id).await?;
    insert_undone(write, &signed.id).await?;
    effects::strike_out(write, &duty, id).await?;
    replan_subject(write, duty.subject()).await?;
    hand_on(write, &duty).await?;
    Ok(Signed { id, duty, outcome: Outcome::Undone, told: None })
}

async fn insert_undone(write: &mut Write, id: &SignoffId) -> Result<(), AppError> {
    let (who, at, today) = (write.who, write.at, write.today);
    sqlx::query(
        "INSERT INTO signoff (duty_id, member_id, at, day, outcome, clearance, persons, corrects_id)
         SELECT duty_id, ?, ?, ?, 'undone', clearance, persons, id FROM signoff WHERE id = ?",
    )
    .bind(who)
    .bind(at)
    .bind(today)
    .bind(id)
    .execute(write.db())
    .await?;
    Ok(())
}
