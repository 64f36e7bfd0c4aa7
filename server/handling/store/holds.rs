//! Holds on enclosures.

use chrono::{DateTime, TimeDelta, Utc};
use sqlx::SqliteConnection;

use super::super::model::{Hold, HoldSubject, NewHold};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, HoldId, SignoffId};
use crate::house::site::Site;
use crate::house::write::Write;
use crate::reckoning::words::{Exposure, HoldKind};

/// The holds that stand on an animal at an instant.
///
/// # Errors
/// The database can't be read.
pub async fn holds_of_animal(db: &mut SqliteConnection, animal: AnimalId, now: DateTime<Utc>) -> Result<Vec<Hold>, AppError> {
    let all = standing_holds(db, now).await?;
    Ok(all.into_iter().filter(|hold| hold.animal_id == Some(animal)).collect())
}

/// The holds that stand on a cohort at an instant.
///
/// # Errors
/// The database can't be read.
pub async fn holds_of_cohort(db: &mut SqliteConnection, cohort: CohortId, now: DateTime<Utc>) -> Result<Vec<Hold>, AppError> {
    let all = standing_holds(db, now).await?;
    Ok(all.into_iter().filter(|hold| hold.cohort_id == Some(cohort)).collect())
}

/// Every hold that stands at an instant, the one that lasts longest last.
///
/// # Errors
/// The database can't be read.
pub async fn standing_holds(db: &mut SqliteConnection, now: DateTime<Utc>) -> Result<Vec<Hold>, AppError> {
    Ok(sqlx::query_as(
        "SELECT hold.id, hold.animal_id, hold.cohort_id, COALESCE(animal.tag, cohort.code) AS label, hold.kind, blocks, from_at, until_at,
                reason, member.name AS member_name
         FROM hold
         LEFT JOIN animal ON animal.id = hold.animal_id
         LEFT JOIN cohort ON cohort.id = hold.cohort_id
         LEFT JOIN member ON member.id = hold.member_id
         WHERE lifted_at IS NULL AND (until_at IS NULL OR until_at > ?) AND COALESCE(animal.status, 'alive') = 'alive'
         ORDER BY until_at IS NULL, until_at, hold.id",
    )
    .bind(now)
    .fetch_all(db)
    .await?)
}

/// One hold, whether it stands or not.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_hold(db: &mut SqliteConnection, id: HoldId) -> Result<Hold, AppError> {
    Ok(sqlx::query_as(
        "SELECT hold.id, hold.animal_id, hold.cohort_id, COALESCE(animal.tag, cohort.code) AS label, hold.kind, blocks, from_at, until_at,
                reason, member.name AS member_name
         FROM hold
         LEFT JOIN animal ON animal.id = hold.animal_id
         LEFT JOIN cohort ON cohort.id = hold.cohort_id
         LEFT JOIN member ON member.id = hold.member_id
         WHERE hold.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// Puts a hold on an animal or a cohort.
///
/// # Errors
/// The database can't be written.
pub async fn add_hold(write: &mut Write, new: &NewHold) -> Result<HoldId, AppError> {
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar(
        "INSERT INTO hold (animal_id, cohort_id, kind, blocks, from_at, until_at, reason, signoff_id, member_id)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.subject.animal())
    .bind(new.subject.cohort())
    .bind(new.kind)
    .bind(new.blocks)
    .bind(at)
    .bind(new.until_at)
    .bind(&new.reason)
    .bind(new.signoff)
    .bind(who)
    .fetch_one(write.db())
    .await?)
}

/// The two holds of a threat display that a sign-off tells of: opening for the house's hours, hands in for its days.
///
/// # Errors
/// The database can't be written.
pub async fn hold_agitated(write: &mut Write, subject: HoldSubject, site: &Site, signoff: Option<SignoffId>) -> Result<(), AppError> {
    agitate(write, subject, site, signoff, "threat display").await
}

/// The same two holds for any reason: as long as the species' care profile says, or else the house's settings.
///
/// # Errors
/// The database can't be written.
pub async fn agitate(
    write: &mut Write,
    subject: HoldSubject,
    site: &Site,
    signoff: Option<SignoffId>,
    reason: &str,
) -> Result<(), AppError> {
    leave_alone(write, subject, site, HoldKind::Agitated, signoff, reason).await.map(drop)
}

/// The two holds after a rehouse that was broken off: as long as after a threat display. Gives the hours without opening and the
/// days without hands in.
///
/// # Errors
/// The database can't be written.
pub async fn hold_rest(
    write: &mut Write,
    subject: HoldSubject,
    site: &Site,
    signoff: SignoffId,
    reason: &str,
) -> Result<(i64, i64), AppError> {
    leave_alone(write, subject, site, HoldKind::Rest, Some(signoff), reason).await
}

async fn leave_alone(
    write: &mut Write,
    subject: HoldSubject,
    site: &Site,
    kind: HoldKind,
    signoff: Option<SignoffId>,
    reason: &str,
) -> Result<(i64, i64), AppError> {
    let at = write.at;
    let (hours, days) = of_species(write.db(), subject).await?;
    let (hours, days) = (hours.unwrap_or(site.agitated_open_hours), days.unwrap_or(site.agitated_hands_in_days));
    let lasting = [(Exposure::Open, TimeDelta::hours(hours)), (Exposure::HandsIn, TimeDelta::days(days))];
    for (blocks, length) in lasting {
        let (until_at, reason) = (Some(at + length), reason.to_owned());
        add_hold(write, &NewHold { subject, kind, blocks, until_at, reason, signoff }).await?;
    }
    Ok((hours, days))
}

/// How long the subject's species is left alone after a threat, where its care profile says: hours without opening, days
/// without hands in.
async fn of_species(db: &mut SqliteConnection, subject: HoldSubject) -> Result<(Option<i64>, Option<i64>), AppError> {
    let row: Option<(Option<i64>, Option<i64>)> = sqlx::query_as(
        "SELECT threat_open_hours, threat_hands_in_days FROM care_now JOIN care_profile ON care_profile.id = care_now.profile_id
         WHERE care_now.species_id = COALESCE((SELECT species_id FROM animal WHERE id = ?), (SELECT species_id FROM cohort WHERE id = ?))",
    )
    .bind(subject.animal())
    .bind(subject.cohort())
    .fetch_optional(db)
    .await?;
    Ok(row.unwrap_or_default())
}

/// Lifts one hold before its end.
///
/// # Errors
/// A conflict when it has been lifted or has run out.
pub async fn lift(write: &mut Write, id: HoldId, note: &str) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let lifted = sqlx::query(
        "UPDATE hold SET lifted_at = ?1, lifted_by = ?2, lift_note = ?3
         WHERE id = ?4 AND lifted_at IS NULL AND (until_at IS NULL OR until_at > ?1)",
    )
    .bind(at)
    .bind(who)
    .bind(note)
    .bind(id)
    .execute(write.db())
    .await?;
    if lifted.rows_affected() == 0 {
        return Err(AppError::conflict("This hold stands no longer: it was lifted or has run out."));
    }
    Ok(())
}

/// Lifts the holds that a sign-off brought, when the sign-off is taken back.
///
/// # Errors
/// The database can't be written.
pub async fn lift_holds_of_signoff(write: &mut Write, signoff: SignoffId) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "UPDATE hold SET lifted_at = ?, lifted_by = ?, lift_note = 'the sign-off was taken back' WHERE signoff_id = ? AND lifted_at IS NULL",
    )
    .bind(at)
    .bind(who)
    .bind(signoff)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Lifts the standing holds of one kind, when what they were for is over.
///
/// # Errors
/// The database can't be written.
pub async fn lift_holds(write: &mut Write, subject: HoldSubject, kind: HoldKind) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "UPDATE hold SET lifted_at = ?1, lifted_by = ?2, lift_note = 'it is over'
         WHERE animal_id IS ?3 AND cohort_id IS ?4 AND kind = ?5 AND lifted_at IS NULL AND (until_at IS NULL OR until_at > ?1)",
    )
    .bind(at)
    .bind(who)
    .bind(subject.animal())
    .bind(subject.cohort())
    .bind(kind)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Gives a subject every hold that stands on the one it came from, such as a quarantine.
///
/// # Errors
/// The database can't be written.
pub async fn copy_holds(write: &mut Write, from: HoldSubject, to: HoldSubject) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO hold (animal_id, cohort_id, kind, blocks, from_at, until_at, reason, member_id)
         SELECT ?1, ?2, kind, blocks, from_at, until_at, reason, ?3 FROM hold
         WHERE (animal_id = ?4 OR cohort_id = ?5) AND lifted_at IS NULL AND (until_at IS NULL OR until_at > ?6)",
    )
    .bind(to.animal())
    .bind(to.cohort())
    .bind(who)
    .bind(from.animal())
    .bind(from.cohort())
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}
