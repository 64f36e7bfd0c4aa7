//! The rules set apart for the subjects of a scope.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::{Gathered, Moment, Scope};
use crate::house::errors::AppError;
use crate::reckoning::planner::{ApartKind, SetApart, Subject, SubjectKind};

#[derive(sqlx::FromRow)]
struct ApartRow {
    animal_id: Option<i64>,
    cohort_id: Option<i64>,
    kind: ApartKind,
    days: Option<u32>,
    from_on: NaiveDate,
    until_on: NaiveDate,
    reason: String,
    by_name: String,
}

/// Adds to animals and cohorts the rules that have not run out, in the order in which they were set.
pub(super) async fn add(db: &mut SqliteConnection, scope: Scope, moment: Moment, to: &mut Gathered) -> Result<(), AppError> {
    let (animals, cohorts) = (scope.ids(SubjectKind::Animal), scope.ids(SubjectKind::Cohort));
    let rows: Vec<ApartRow> = sqlx::query_as(
        "SELECT animal_id, cohort_id, kind, days, from_on, until_on, reason, by_name
         FROM set_apart_standing
         WHERE (animal_id BETWEEN ?1 AND ?2 OR cohort_id BETWEEN ?3 AND ?4) AND until_on >= ?5
         ORDER BY id",
    )
    .bind(animals.0)
    .bind(animals.1)
    .bind(cohorts.0)
    .bind(cohorts.1)
    .bind(moment.today)
    .fetch_all(db)
    .await?;
    if rows.is_empty() {
        return Ok(());
    }
    let of = |animal: Option<i64>, cohort: Option<i64>| rows.iter().filter(move |row| row.animal_id == animal && row.cohort_id == cohort);
    for subject in &mut to.subjects {
        match subject {
            Subject::Animal(facts) => facts.apart = of(Some(facts.id), None).map(ApartRow::rule).collect(),
            Subject::Cohort(facts) => facts.apart = of(None, Some(facts.id)).map(ApartRow::rule).collect(),
            Subject::Sac(_) | Subject::Room(_) => {}
        }
    }
    Ok(())
}

impl ApartRow {
    fn rule(&self) -> SetApart {
        SetApart {
            kind: self.kind,
            days: self.days,
            from: self.from_on,
            until: self.until_on,
            reason: self.reason.clone(),
            by: self.by_name.clone(),
        }
    }
}
