//! Rules set apart for one animal or cohort: setting one, ending it before its day, and reading them.

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use crate::handling::model::HoldSubject;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, ApartId, CohortId};
use crate::house::write::Write;
use crate::reckoning::planner::ApartKind;
use crate::rounds::model::apart::{Apart, NewApart};

/// Sets a rule apart from today on.
///
/// # Errors
/// Anybody but a lead; an end that is past or more than a year away.
pub async fn set_apart(write: &mut Write, subject: HoldSubject, new: &NewApart) -> Result<ApartId, AppError> {
    let (animal, cohort) = ids(subject);
    let (who, at, today) = (write.who, write.at, write.today);
    Ok(sqlx::query_scalar(
        "INSERT INTO set_apart (animal_id, cohort_id, kind, days, from_on, until_on, reason, member_id, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(animal)
    .bind(cohort)
    .bind(new.kind)
    .bind(new.days)
    .bind(today)
    .bind(new.until)
    .bind(&new.reason)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Ends a rule before its last day.
///
/// # Errors
/// A conflict when it has ended already; anybody but a lead.
pub async fn end_apart(write: &mut Write, rule: &Apart, reason: &str) -> Result<(), AppError> {
    if !rule.stands(&write.today) {
        return Err(AppError::conflict("This rule has ended already."));
    }
    let (who, at) = (write.who, write.at);
    sqlx::query("INSERT INTO set_apart_end (set_apart_id, reason, member_id, at) VALUES (?, ?, ?, ?)")
        .bind(rule.id)
        .bind(reason)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// One rule set apart.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_apart(db: &mut SqliteConnection, id: ApartId) -> Result<Apart, AppError> {
    let row: Row = sqlx::query_as(
        "SELECT set_apart.id, animal_id, cohort_id, kind, days, from_on, until_on, set_apart.reason, author.name AS by_name,
                ender.name AS ended_by, ended.at AS ended_at, ended.reason AS end_reason
         FROM set_apart JOIN member AS author ON author.id = set_apart.member_id
         LEFT JOIN set_apart_end AS ended ON ended.set_apart_id = set_apart.id LEFT JOIN member AS ender ON ender.id = ended.member_id
         WHERE set_apart.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?;
    Ok(row.rule())
}

/// The rules that were ever set apart for an animal or cohort, the latest first.
///
/// # Errors
/// The database can't be read.
pub async fn apart_of(db: &mut SqliteConnection, subject: HoldSubject) -> Result<Vec<Apart>, AppError> {
    let (animal, cohort) = ids(subject);
    let rows: Vec<Row> = sqlx::query_as(
        "SELECT set_apart.id, animal_id, cohort_id, kind, days, from_on, until_on, set_apart.reason, author.name AS by_name,
                ender.name AS ended_by, ended.at AS ended_at, ended.reason AS end_reason
         FROM set_apart JOIN member AS author ON author.id = set_apart.member_id
         LEFT JOIN set_apart_end AS ended ON ended.set_apart_id = set_apart.id LEFT JOIN member AS ender ON ender.id = ended.member_id
         WHERE set_apart.animal_id = ?1 OR set_apart.cohort_id = ?2
         ORDER BY set_apart.id DESC",
    )
    .bind(animal)
    .bind(cohort)
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(Row::rule).collect())
}

fn ids(subject: HoldSubject) -> (Option<AnimalId>, Option<CohortId>) {
    match subject {
        HoldSubject::Animal(id) => (Some(id), None),
        HoldSubject::Cohort(id) => (None, Some(id)),
    }
}

#[derive(sqlx::FromRow)]
struct Row {
    id: ApartId,
    animal_id: Option<AnimalId>,
    cohort_id: Option<CohortId>,
    kind: ApartKind,
    days: Option<u32>,
    from_on: NaiveDate,
    until_on: NaiveDate,
    reason: String,
    by_name: String,
    ended_by: Option<String>,
    ended_at: Option<DateTime<Utc>>,
    end_reason: Option<String>,
}

impl Row {
    fn rule(self) -> Apart {
        let subject = match (self.animal_id, self.cohort_id) {
            (Some(animal), _) => HoldSubject::Animal(animal),
            (None, cohort) => HoldSubject::Cohort(cohort.unwrap_or(CohortId(0))),
        };
        let rule = crate::reckoning::planner::SetApart {
            kind: self.kind,
            days: self.days,
            from: self.from_on,
            until: self.until_on,
            reason: self.reason,
            by: self.by_name,
        };
        let ended = self.ended_at.map(|at| (at, self.ended_by.unwrap_or_default(), self.end_reason.unwrap_or_default()));
        Apart { id: self.id, subject, rule, ended }
    }
}
