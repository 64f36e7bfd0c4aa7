//! Incidents, what was noted later, and the review that ends a suspension.

use sqlx::SqliteConnection;

use super::super::model::{Incident, IncidentNote, NewIncident, NoteTopic};
use crate::house::errors::AppError;
use crate::house::ids::IncidentId;
use crate::house::write::Write;

/// All incidents, newest first, at most 500.
///
/// # Errors
/// The database can't be read.
pub async fn incidents(db: &mut SqliteConnection) -> Result<Vec<Incident>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM incident_now ORDER BY id DESC LIMIT 500").fetch_all(db).await?)
}

/// The incidents that wait for a review, oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn waiting_incidents(db: &mut SqliteConnection) -> Result<Vec<Incident>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM incident_now WHERE reviewed_at IS NULL ORDER BY id").fetch_all(db).await?)
}

/// One incident.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_incident(db: &mut SqliteConnection, id: IncidentId) -> Result<Incident, AppError> {
    Ok(sqlx::query_as("SELECT * FROM incident_now WHERE id = ?").bind(id).fetch_one(db).await?)
}

/// What was noted on an incident, in the order in which it was written.
///
/// # Errors
/// The database can't be read.
pub async fn notes_of(db: &mut SqliteConnection, id: IncidentId) -> Result<Vec<IncidentNote>, AppError> {
    Ok(sqlx::query_as(
        "SELECT topic, text, member.name AS member_name, at FROM incident_note JOIN member ON member.id = incident_note.member_id
         WHERE incident_id = ? ORDER BY incident_note.id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// Records that something happened to whoever records it, and lets all their clearances rest until a review.
///
/// # Errors
/// The database can't be written.
pub async fn record_incident(write: &mut Write, new: &NewIncident) -> Result<IncidentId, AppError> {
    let (who, at, today) = (write.who, write.at, write.today);
    let who = who.ok_or_else(|| AppError::forbidden("An incident is recorded by a person."))?;
    let id: IncidentId = sqlx::query_scalar(
        "INSERT INTO incident (kind, member_id, animal_id, cohort_id, duty_id, at, day) VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.kind)
    .bind(who)
    .bind(new.animal)
    .bind(new.cohort)
    .bind(new.duty)
    .bind(at)
    .bind(today)
    .fetch_one(write.db())
    .await?;
    sqlx::query("INSERT INTO suspension (member_id, incident_id, since) VALUES (?, ?, ?)")
        .bind(who)
        .bind(id)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(id)
}

/// Adds a note to an incident; notes are never changed.
///
/// # Errors
/// The database can't be written.
pub async fn add_note(write: &mut Write, id: IncidentId, topic: NoteTopic, text: &str) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query("INSERT INTO incident_note (incident_id, topic, text, member_id, at) VALUES (?, ?, ?, ?, ?)")
        .bind(id)
        .bind(topic)
        .bind(text)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Reviews an incident: the note is kept, and the clearances of whoever it happened to count again.
///
/// # Errors
/// A 403 for the person themselves; a conflict when it was reviewed before.
pub async fn review(write: &mut Write, incident: &Incident, note: &str) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    if who == Some(incident.member_id) {
        return Err(AppError::forbidden("Nobody reviews an incident of their own. Ask another lead or an owner."));
    }
    add_note(write, incident.id, NoteTopic::Review, note).await?;
    let lifted = sqlx::query("UPDATE suspension SET lifted_at = ?, lifted_by = ? WHERE incident_id = ? AND lifted_at IS NULL")
        .bind(at)
        .bind(who)
        .bind(incident.id)
        .execute(write.db())
        .await?;
    if lifted.rows_affected() == 0 {
        return Err(AppError::conflict("This incident has been reviewed already."));
    }
    Ok(())
}
