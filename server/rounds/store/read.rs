//! Duties as rounds and pages show them.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::facts::{self, Gathered, Moment, Scope};
use super::plan::scope_of;
use crate::house::errors::AppError;
use crate::house::ids::{DutyId, MemberId, SignoffId};
use crate::reckoning::hazard::HazardFacts;
use crate::reckoning::moult::Fast;
use crate::reckoning::planner::{CohortFacts, Subject, SubjectKey};
use crate::reckoning::tag;
use crate::reckoning::words::{LifeStage, MoultState};
use crate::rounds::model::{Duty, Signoff};

/// How long a sign-off can be taken back, in minutes.
pub const UNDO_MINUTES: i64 = 10;

/// One duty, open or ended.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: DutyId) -> Result<Duty, AppError> {
    Ok(sqlx::query_as("SELECT * FROM duty_now WHERE id = ?").bind(id).fetch_one(db).await?)
}

/// One person's open duties, in walking order.
///
/// # Errors
/// The database can't be read.
pub async fn round_of(db: &mut SqliteConnection, member: MemberId) -> Result<Vec<Duty>, AppError> {
    Ok(sqlx::query_as(
        "SELECT * FROM duty_now WHERE state = 'open' AND assigned_to = ?
         ORDER BY room_name IS NULL, room_order, room_name, rack_order, rack_name, shelf_order, shelf_number, position, label, kind, id",
    )
    .bind(member)
    .fetch_all(db)
    .await?)
}

/// Every open duty of the house, in walking order.
///
/// # Errors
/// The database can't be read.
pub async fn open(db: &mut SqliteConnection) -> Result<Vec<Duty>, AppError> {
    Ok(sqlx::query_as(
        "SELECT * FROM duty_now WHERE state = 'open'
         ORDER BY room_name IS NULL, room_order, room_name, rack_order, rack_name, shelf_order, shelf_number, position, label, kind, id",
    )
    .fetch_all(db)
    .await?)
}

/// The open duties that somebody else signs and for which this person is the second, in walking order.
///
/// # Errors
/// The database can't be read.
pub async fn second_of(db: &mut SqliteConnection, member: MemberId) -> Result<Vec<Duty>, AppError> {
    Ok(sqlx::query_as(
        "SELECT * FROM duty_now WHERE state = 'open' AND second_to = ?
         ORDER BY room_name IS NULL, room_order, room_name, rack_order, rack_name, shelf_order, shelf_number, position, label, kind, id",
    )
    .bind(member)
    .fetch_all(db)
    .await?)
}

/// The open duties of whatever carries a tag, or a cohort's code, by kind.
///
/// # Errors
/// The database can't be read.
pub async fn open_at(db: &mut SqliteConnection, label: &str) -> Result<Vec<Duty>, AppError> {
    Ok(sqlx::query_as(
        "SELECT * FROM duty_now WHERE state = 'open' AND animal_id = (SELECT id FROM animal WHERE tag IN (?1, ?2))
         UNION ALL
         SELECT * FROM duty_now WHERE state = 'open' AND cohort_id = (SELECT id FROM cohort WHERE code = ?1)
         ORDER BY kind, id",
    )
    .bind(label.trim())
    .bind(tag::normalise(label))
    .fetch_all(db)
    .await?)
}

/// How many duties a person has signed off on a day, those taken back left out.
///
/// # Errors
/// The database can't be read.
pub async fn signed_on(db: &mut SqliteConnection, member: MemberId, day: NaiveDate) -> Result<i64, AppError> {
    Ok(sqlx::query_scalar("SELECT COUNT(*) FROM signoff_standing WHERE day = ? AND member_id = ?")
        .bind(day)
        .bind(member)
        .fetch_one(db)
        .await?)
}

/// The open duty of the same subject and kind; none when nothing of the kind is due.
///
/// # Errors
/// The database can't be read.
pub async fn open_of(db: &mut SqliteConnection, like: &Duty) -> Result<Option<Duty>, AppError> {
    Ok(sqlx::query_as(
        "SELECT * FROM duty_now WHERE state = 'open' AND kind = ? AND animal_id IS ? AND cohort_id IS ? AND sac_id IS ? AND room_id IS ?",
    )
    .bind(like.kind)
    .bind(like.animal_id)
    .bind(like.cohort_id)
    .bind(like.sac_id)
    .bind(like.room_id)
    .fetch_optional(db)
    .await?)
}

/// What the book knows of the subjects of duties, for the pages: what to know before opening, and what to expect inside.
#[derive(Debug, Default)]
pub struct Known(Gathered);

impl Known {
    fn subject(&self, key: SubjectKey) -> Option<&Subject> {
        self.0.subjects.iter().find(|subject| subject.key() == key)
    }

    /// What bears on people's safety.
    #[must_use]
    pub fn hazard(&self, key: SubjectKey) -> Option<&HazardFacts> {
        self.subject(key).and_then(|subject| match subject {
            Subject::Animal(facts) => Some(&facts.hazard),
            Subject::Cohort(facts) => Some(&facts.hazard),
            Subject::Sac(facts) => Some(&facts.hazard),
            Subject::Room(_) => None,
        })
    }

    /// What was last seen of an animal's moult.
    #[must_use]
    pub fn moult_state(&self, key: SubjectKey) -> MoultState {
        match self.subject(key) {
            Some(Subject::Animal(facts)) => facts.moult_state,
            _ => MoultState::Normal,
        }
    }

    /// The leg span (mm) and life stage of an animal.
    #[must_use]
    pub fn size(&self, key: SubjectKey) -> Option<(Option<u32>, LifeStage)> {
        match self.subject(key) {
            Some(Subject::Animal(facts)) => Some((facts.span_mm, facts.life_stage)),
            _ => None,
        }
    }

    /// How long an animal goes without food after a moult.
    #[must_use]
    pub fn fast(&self, key: SubjectKey) -> Option<Fast> {
        match self.subject(key) {
            Some(Subject::Animal(facts)) => Some(facts.care.fast_of(facts.span_mm, facts.life_stage)),
            _ => None,
        }
    }

    /// How often the care profile has it looked at for a moult, in days.
    #[must_use]
    pub fn looked_every(&self, key: SubjectKey) -> Option<u32> {
        match self.subject(key)? {
            Subject::Animal(facts) => Some(facts.care.moult_check_days),
            Subject::Cohort(facts) => Some(facts.care.moult_check_days),
            Subject::Sac(_) | Subject::Room(_) => None,
        }
    }

    /// A cohort's facts.
    #[must_use]
    pub fn cohort(&self, key: SubjectKey) -> Option<&CohortFacts> {
        match self.subject(key) {
            Some(Subject::Cohort(facts)) => Some(facts),
            _ => None,
        }
    }
}

/// What the book knows of the subject of one duty.
///
/// # Errors
/// The database can't be read.
pub async fn known_of(db: &mut SqliteConnection, subject: SubjectKey, at: DateTime<Utc>, zone: Tz) -> Result<Known, AppError> {
    gather(db, scope_of(subject), at, zone).await
}

/// What the book knows of every subject in the house.
///
/// # Errors
/// The database can't be read.
pub async fn known(db: &mut SqliteConnection, at: DateTime<Utc>, zone: Tz) -> Result<Known, AppError> {
    gather(db, Scope::House, at, zone).await
}

async fn gather(db: &mut SqliteConnection, scope: Scope, at: DateTime<Utc>, zone: Tz) -> Result<Known, AppError> {
    let today: NaiveDate = crate::house::clock::local_date(zone, at);
    Ok(Known(facts::gather(db, scope, Moment { at, today, zone }).await?))
}

/// The sign-off that ended a duty; none while it is open or when it was dropped.
///
/// # Errors
/// The database can't be read.
pub async fn signoff_of(db: &mut SqliteConnection, duty: DutyId) -> Result<Option<Signoff>, AppError> {
    Ok(sqlx::query_as(
        "SELECT signoff.id, duty_id, member_id, member.name AS member_name, at, made_at, outcome, duty_now.kind, duty_now.label,
                duty_now.animal_id IS NOT NULL AS of_animal,
                EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = signoff.id) AS taken_back
         FROM signoff JOIN member ON member.id = signoff.member_id JOIN duty_now ON duty_now.id = signoff.duty_id
         WHERE signoff.duty_id = ? AND signoff.corrects_id IS NULL",
    )
    .bind(duty)
    .fetch_optional(db)
    .await?)
}

/// One sign-off.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_signoff(db: &mut SqliteConnection, id: SignoffId) -> Result<Signoff, AppError> {
    Ok(sqlx::query_as(
        "SELECT signoff.id, duty_id, member_id, member.name AS member_name, at, made_at, outcome, duty_now.kind, duty_now.label,
                duty_now.animal_id IS NOT NULL AS of_animal,
                EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = signoff.id) AS taken_back
         FROM signoff JOIN member ON member.id = signoff.member_id JOIN duty_now ON duty_now.id = signoff.duty_id
         WHERE signoff.id = ? AND signoff.corrects_id IS NULL",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// What a person has signed that they can still take back, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn can_undo(db: &mut SqliteConnection, member: MemberId, now: DateTime<Utc>) -> Result<Vec<Signoff>, AppError> {
    let signed: Vec<Signoff> = sqlx::query_as(
        "SELECT signoff.id, duty_id, member_id, member.name AS member_name, at, made_at, outcome, duty_now.kind, duty_now.label,
                duty_now.animal_id IS NOT NULL AS of_animal, 0 AS taken_back
         FROM signoff_standing AS signoff JOIN member ON member.id = signoff.member_id JOIN duty_now ON duty_now.id = signoff.duty_id
         WHERE signoff.member_id = ? AND signoff.at >= ? ORDER BY signoff.id DESC LIMIT 200",
    )
    .bind(member)
    .bind(now - TimeDelta::minutes(UNDO_MINUTES))
    .fetch_all(db)
    .await?;
    Ok(signed.into_iter().filter(Signoff::can_be_undone).collect())
}
