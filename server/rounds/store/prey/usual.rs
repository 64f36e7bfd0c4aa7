//! What each animal and cohort is usually given.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use super::kinds::{kinds, rules};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, PreyKindId};
use crate::house::write::Write;
use crate::reckoning::planner::{SubjectKey, SubjectKind};
use crate::reckoning::prey::Eater;
use crate::rounds::model::prey::{Own, Usual, UsualBook};
use crate::rounds::store::facts::Scope;
use crate::species::model::life_stage;

#[derive(sqlx::FromRow)]
struct EaterRow {
    id: i64,
    span_mm: Option<u32>,
    mature_male: bool,
    mature: bool,
    adult_span_min_mm: u32,
    own_kind: Option<PreyKindId>,
    own_each: Option<u32>,
    own_note: Option<String>,
}

impl EaterRow {
    fn eater(&self, kind: SubjectKind) -> Eater {
        let life_stage = match (kind, self.span_mm) {
            // A cohort that nobody has measured is one of spiderlings.
            (SubjectKind::Cohort, None) => crate::reckoning::words::LifeStage::Spiderling,
            (_, span) => life_stage(span.map(i64::from), self.mature, self.adult_span_min_mm),
        };
        Eater { span_mm: self.span_mm, life_stage, mature_male: self.mature_male }
    }

    fn own(&self) -> Option<Own> {
        Some(Own { kind: self.own_kind?, each: self.own_each?, note: self.own_note.clone().unwrap_or_default() })
    }
}

/// What everybody in the house is usually given.
///
/// # Errors
/// The database can't be read.
pub async fn book(db: &mut SqliteConnection) -> Result<UsualBook, AppError> {
    book_of(db, Scope::House).await
}

/// The same for one subject. Without a list of kinds nothing else is read.
pub(in crate::rounds::store) async fn book_of(db: &mut SqliteConnection, scope: Scope) -> Result<UsualBook, AppError> {
    let mut kinds = kinds(&mut *db).await?;
    kinds.retain(|kind| kind.active);
    if kinds.is_empty() {
        return Ok(UsualBook::default());
    }
    let rules = rules(&mut *db).await?;
    let mut book = UsualBook { kinds, rules, eaters: HashMap::new(), own: HashMap::new() };
    for kind in [SubjectKind::Animal, SubjectKind::Cohort] {
        let (first, last) = scope.ids(kind);
        if first > last {
            continue;
        }
        let rows = if kind == SubjectKind::Animal { animals(&mut *db, first, last).await? } else { cohorts(&mut *db, first, last).await? };
        for row in rows {
            let key = SubjectKey { kind, id: row.id };
            book.eaters.insert(key, row.eater(kind));
            book.own.extend(row.own().map(|own| (key, own)));
        }
    }
    Ok(book)
}

async fn animals(db: &mut SqliteConnection, first: i64, last: i64) -> Result<Vec<EaterRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.sex_basis = 'mature' AND animal.sex = 'male' AS mature_male, animal.mature_on IS NOT NULL AS mature,
                adult_span_min_mm, own.kind_id AS own_kind, own.each AS own_each, own.note AS own_note,
                (SELECT m.mm FROM measurement_standing AS m
                 WHERE m.animal_id = animal.id AND m.kind = 'dls' ORDER BY m.day DESC, m.id DESC LIMIT 1) AS span_mm
         FROM animal JOIN species ON species.id = animal.species_id
         LEFT JOIN prey_usual AS own ON own.id = (SELECT MAX(u.id) FROM prey_usual AS u WHERE u.animal_id = animal.id)
         WHERE animal.status = 'alive' AND animal.id BETWEEN ? AND ?",
    )
    .bind(first)
    .bind(last)
    .fetch_all(db)
    .await?)
}

async fn cohorts(db: &mut SqliteConnection, first: i64, last: i64) -> Result<Vec<EaterRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort.id, cohort.span_mm, 0 AS mature_male, 0 AS mature, adult_span_min_mm,
                own.kind_id AS own_kind, own.each AS own_each, own.note AS own_note
         FROM cohort JOIN species ON species.id = cohort.species_id
         LEFT JOIN prey_usual AS own ON own.id = (SELECT MAX(u.id) FROM prey_usual AS u WHERE u.cohort_id = cohort.id)
         WHERE cohort.id BETWEEN ? AND ?",
    )
    .bind(first)
    .bind(last)
    .fetch_all(db)
    .await?)
}

/// What one subject is usually given; none without a list, or when nothing of it is small enough.
///
/// # Errors
/// The database can't be read.
pub async fn usual_of(db: &mut SqliteConnection, subject: SubjectKey) -> Result<Option<Usual>, AppError> {
    Ok(book_of(db, super::super::plan::scope_of(subject)).await?.of(subject))
}

/// Chooses what one animal or cohort is usually given; no kind gives it back to the rule.
///
/// # Errors
/// A kind that the house does not use; something that is neither an animal nor a cohort.
pub async fn set_own(write: &mut Write, subject: SubjectKey, kind: Option<PreyKindId>, each: u32, note: &str) -> Result<(), AppError> {
    if let Some(kind) = kind {
        let known = kinds(write.db()).await?;
        if !known.iter().any(|known| known.id == kind && known.active) {
            return Err(AppError::refused("kind", "This kind of prey is not in use. Choose one of the list."));
        }
    }
    let of = |wanted| (subject.kind == wanted).then_some(subject.id);
    let (who, at) = (write.who, write.at);
    sqlx::query("INSERT INTO prey_usual (animal_id, cohort_id, kind_id, each, note, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?)")
        .bind(of(SubjectKind::Animal).map(AnimalId))
        .bind(of(SubjectKind::Cohort).map(CohortId))
        .bind(kind)
        .bind(each)
        .bind(note)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}
