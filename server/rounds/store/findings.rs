//! What was found at stops besides their duties: a moult, mould, mites, a box that will not do, a note, a photo to be taken.

use chrono::{DateTime, TimeDelta, Utc};
use sqlx::SqliteConnection;

use super::effects;
use super::plan::replan_subject;
use super::read::{UNDO_MINUTES, open_of};
use super::sign_off::sign_off;
use crate::animals;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, FindingId, MemberId};
use crate::house::write::Write;
use crate::reckoning::words::DutyKind;
use crate::rounds::model::finding::{Finding, FindingEnd, FindingKind};
use crate::rounds::model::{Detail, Duty, NewSignoff, Outcome};

/// Notes a moult of today that was found at any stop of an animal. Where a moult check is due, it is signed off by it. Gives what
/// it makes void of a female's pairings, if anything.
///
/// # Errors
/// A duty that is not about an animal; an animal that has left.
pub async fn record_found_moult(write: &mut Write, duty: &Duty, skin_kept: bool) -> Result<Option<String>, AppError> {
    let Some(animal) = duty.animal_id else {
        return Err(AppError::refused("what", "Say on its own page how many of this cohort moulted, and at which stage."));
    };
    let moult = Detail::Moult { day: write.today, skin_kept, span: None };
    let check = open_of(write.db(), &Duty { kind: DutyKind::MoultCheck, ..duty.clone() }).await?;
    match check {
        Some(check) => sign_off(write, &NewSignoff::plain(check.id, Outcome::Moulted).with(moult)).await.map(|signed| signed.told),
        None => {
            let found = NewSignoff::plain(duty.id, Outcome::Moulted).with(moult);
            let told = effects::moulted(write, duty.subject(), animal, &found, None).await?;
            replan_subject(write, duty.subject()).await?;
            Ok(told)
        }
    }
}

/// Notes what was found at a stop. Mould, mites and a box that will not do make a rehouse due.
///
/// # Errors
/// A note without words; a box of something that is not an animal.
pub async fn record_finding(write: &mut Write, duty: &Duty, kind: FindingKind, text: &str) -> Result<FindingId, AppError> {
    if kind == FindingKind::Note && text.is_empty() {
        return Err(AppError::refused("text", "Write what there is to note."));
    }
    let (at, day, who) = (write.at, write.today, write.who);
    let id: FindingId = sqlx::query_scalar(
        "INSERT INTO finding (animal_id, cohort_id, sac_id, duty_id, kind, text, day, member_id, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(duty.animal_id)
    .bind(duty.cohort_id)
    .bind(duty.sac_id)
    .bind(duty.id)
    .bind(kind)
    .bind(text)
    .bind(day)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?;
    match (needed_box(kind, text), duty.animal_id) {
        (Some(need), Some(animal)) => set_need(write, animal, &need).await?,
        (Some(_), None) if kind == FindingKind::NeedsRehouse => {
            return Err(AppError::refused("what", "Only a tagged animal is given another box. Write a note instead."));
        }
        _ => {}
    }
    replan_subject(write, duty.subject()).await?;
    Ok(id)
}

/// Why another box is needed, in the animal's own words.
fn needed_box(kind: FindingKind, text: &str) -> Option<String> {
    let kind = matches!(kind, FindingKind::Mould | FindingKind::Mites | FindingKind::NeedsRehouse).then(|| kind.label())?;
    Some(if text.is_empty() { kind.to_owned() } else { format!("{kind}: {text}") })
}

async fn set_need(write: &mut Write, animal: AnimalId, need: &str) -> Result<(), AppError> {
    let version = animals::store::require(write.db(), animal).await?.version;
    if animals::store::needs_rehouse(write, animal, version, need).await? {
        return Ok(());
    }
    Err(AppError::conflict("This animal has left the house meanwhile. Nothing was written."))
}

/// One finding.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_finding(db: &mut SqliteConnection, id: FindingId) -> Result<Finding, AppError> {
    Ok(sqlx::query_as("SELECT * FROM finding_now WHERE id = ?").bind(id).fetch_one(db).await?)
}

/// The findings that somebody has to do something about, the oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn findings_to_do(db: &mut SqliteConnection) -> Result<Vec<Finding>, AppError> {
    let standing: Vec<Finding> =
        sqlx::query_as("SELECT * FROM finding_now WHERE says IS NULL AND kind <> 'note' ORDER BY day, id").fetch_all(db).await?;
    Ok(standing.into_iter().filter(|finding| finding.kind.wants_doing()).collect())
}

/// What a person has found that they can still take back, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn findings_to_undo(db: &mut SqliteConnection, member: MemberId, now: DateTime<Utc>) -> Result<Vec<Finding>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM finding_now WHERE member_id = ? AND at >= ? AND says IS NULL ORDER BY id DESC LIMIT 50")
        .bind(member)
        .bind(now - TimeDelta::minutes(UNDO_MINUTES))
        .fetch_all(db)
        .await?)
}

/// Says what became of a finding: dealt with, by anybody; or taken back, by whoever made it and soon after. What was taken
/// back no longer makes a rehouse due.
///
/// # Errors
/// A conflict when somebody has said so before or it is too late; a 403 for anybody else.
pub async fn settle_finding(write: &mut Write, id: FindingId, end: FindingEnd) -> Result<Finding, AppError> {
    let finding = require_finding(write.db(), id).await?;
    if let Some(says) = finding.says {
        let by = finding.settled_by.as_deref().unwrap_or("somebody");
        return Err(AppError::conflict(format!("{} was {says} by {by} already.", finding.words())));
    }
    if end == FindingEnd::TakenBack {
        may_take_back(write, &finding)?;
    }
    let (at, day, who) = (write.at, write.today, write.who);
    sqlx::query(
        "INSERT INTO finding (animal_id, cohort_id, sac_id, duty_id, kind, text, day, member_id, at, corrects_id, says)
         SELECT animal_id, cohort_id, sac_id, duty_id, kind, text, ?, ?, ?, id, ? FROM finding WHERE id = ?",
    )
    .bind(day)
    .bind(who)
    .bind(at)
    .bind(end)
    .bind(id)
    .execute(write.db())
    .await?;
    if end == FindingEnd::TakenBack {
        take_need_back(write, &finding).await?;
    }
    Ok(finding)
}

fn may_take_back(write: &Write, finding: &Finding) -> Result<(), AppError> {
    if write.who != Some(finding.member_id) {
        return Err(AppError::forbidden(format!("Only {}, who noted it, can take this back.", finding.member_name)));
    }
    if write.at - finding.at > TimeDelta::minutes(UNDO_MINUTES) {
        return Err(AppError::conflict(format!(
            "A finding can be taken back within {UNDO_MINUTES} minutes. Say that it is dealt with instead."
        )));
    }
    Ok(())
}

async fn take_need_back(write: &mut Write, finding: &Finding) -> Result<(), AppError> {
    let (Some(animal), Some(need)) = (finding.animal_id, needed_box(finding.kind, &finding.text)) else { return Ok(()) };
    let animal = animals::store::require(write.db(), animal).await?;
    if animal.rehouse_note == need && animals::store::needs_rehouse(write, animal.id, animal.version, "").await? {
        super::plan::replan_animal(write, animal.id).await?;
    }
    Ok(())
}
