//! Supervised rehouses, and how many a clearance takes.

use chrono::{Days, NaiveDate};
use sqlx::SqliteConnection;

use super::safe_work::has_read_current;
use super::who_may::lacking;
use crate::handling::model::{Assessment, NewAssessment, PracticeRule, Towards};
use crate::house::errors::AppError;
use crate::house::ids::{AssessmentId, MemberId};
use crate::house::write::Write;
use crate::reckoning::hazard::Requirement;
use crate::reckoning::who_may::{PRACTICE_DAYS, Part, Practice};

/// The supervised rehouses of one member, struck ones too, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn assessments_of(db: &mut SqliteConnection, member: MemberId) -> Result<Vec<Assessment>, AppError> {
    Ok(sqlx::query_as(
        "SELECT assessment.id, assessment.member_id, held.name AS member_name, assessor.name AS assessor_name, assessment.band, assessment.outcome,
                assessment.day, assessment.note, animal.tag, strike.reason AS struck_because, striker.name AS struck_by_name
         FROM assessment
         JOIN member AS held ON held.id = assessment.member_id
         JOIN member AS assessor ON assessor.id = assessment.assessor_id
         LEFT JOIN signoff ON signoff.id = assessment.signoff_id
         LEFT JOIN duty ON duty.id = signoff.duty_id
         LEFT JOIN animal ON animal.id = duty.animal_id
         LEFT JOIN assessment_strike AS strike ON strike.assessment_id = assessment.id
         LEFT JOIN member AS striker ON striker.id = strike.member_id
         WHERE assessment.member_id = ? ORDER BY assessment.day DESC, assessment.id DESC",
    )
    .bind(member)
    .fetch_all(db)
    .await?)
}

/// One supervised rehouse.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_assessment(db: &mut SqliteConnection, id: AssessmentId) -> Result<Assessment, AppError> {
    let member: MemberId = sqlx::query_scalar("SELECT member_id FROM assessment WHERE id = ?").bind(id).fetch_one(&mut *db).await?;
    assessments_of(db, member).await?.into_iter().find(|assessment| assessment.id == id).ok_or(AppError::NotFound)
}

/// Records a supervised rehouse: the assessor holds at least its band on that day, and is somebody else.
///
/// # Errors
/// Those refusals, as mistakes; a trigger keeps them beneath.
pub async fn record_assessment(write: &mut Write, new: &NewAssessment) -> Result<AssessmentId, AppError> {
    let (who, at) = (write.who, write.at);
    if new.assessor == new.member {
        return Err(AppError::refused("assessed", "Nobody assesses themselves. Ask somebody who holds the level."));
    }
    let level = u8::try_from(new.band).unwrap_or(u8::MAX);
    let asked = Requirement { clearance: level, persons: 1 };
    if let Some(missing) = lacking(write.db(), new.assessor, asked, Part::First, new.day).await? {
        return Err(AppError::refused("band", format!("An assessor holds at least clearance {level} on that day, and {missing}.")));
    }
    Ok(sqlx::query_scalar(
        "INSERT INTO assessment (member_id, assessor_id, band, outcome, day, note, signoff_id, recorded_by, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.member)
    .bind(new.assessor)
    .bind(new.band)
    .bind(new.outcome)
    .bind(new.day)
    .bind(&new.note)
    .bind(new.signoff)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Strikes out a supervised rehouse that was entered by mistake.
///
/// # Errors
/// A conflict when it was struck out before.
pub async fn strike_assessment(write: &mut Write, id: AssessmentId, reason: &str) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    if require_assessment(write.db(), id).await?.struck_because.is_some() {
        return Err(AppError::conflict("This assessment was struck out already."));
    }
    sqlx::query("INSERT INTO assessment_strike (assessment_id, reason, member_id, at) VALUES (?, ?, ?, ?)")
        .bind(id)
        .bind(reason)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// How many supervised rehouses each level takes, lowest first.
///
/// # Errors
/// The database can't be read.
pub async fn practice_rules(db: &mut SqliteConnection) -> Result<Vec<PracticeRule>, AppError> {
    Ok(sqlx::query_as("SELECT level, least, passes FROM practice_rule ORDER BY level").fetch_all(db).await?)
}

/// Sets how many a level takes, never fewer than the least.
///
/// # Errors
/// The database can't be written.
pub async fn set_practice_rule(write: &mut Write, level: i64, passes: i64) -> Result<(), AppError> {
    sqlx::query("UPDATE practice_rule SET passes = ? WHERE level = ?").bind(passes).bind(level).execute(write.db()).await?;
    Ok(())
}

/// How far somebody is on the way to each level on a day, lowest first.
///
/// # Errors
/// The database can't be read.
pub async fn towards(db: &mut SqliteConnection, member: MemberId, day: NaiveDate) -> Result<Vec<Towards>, AppError> {
    let has_read = has_read_current(db, member).await?;
    let since = day.checked_sub_days(Days::new(PRACTICE_DAYS.into())).unwrap_or(NaiveDate::MIN);
    let rows: Vec<(u8, u32, u32)> = sqlx::query_as(
        "SELECT level, passes, (SELECT COUNT(*) FROM assessment_standing AS a
                                WHERE a.member_id = ? AND a.band >= level AND a.outcome = 'passed' AND a.day BETWEEN ? AND ?)
         FROM practice_rule ORDER BY level",
    )
    .bind(member)
    .bind(since)
    .bind(day)
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(level, needed, passed)| Towards { level, practice: Practice { passed, needed, has_read } }).collect())
}
