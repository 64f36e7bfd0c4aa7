//! Spiderlings that become animals of their own.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::ledger::post;
use crate::animals;
use crate::animals::model::{NewAnimal, NewMoult, NewOrigin, NewSpan};
use crate::cohorts::model::{NewLine, NewTags};
use crate::handling;
use crate::handling::model::HoldSubject;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, LineId};
use crate::house::write::Write;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{SpanKind, SpanMethod};

/// An animal that a line of a cohort's ledger made.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Tagged {
    /// The animal.
    pub id: AnimalId,
    /// Its tag.
    pub tag: String,
}

/// Makes so many spiderlings animals with tags of their own. They keep the cohort's source code and locality.
///
/// # Errors
/// More than stand there on that day, a stage before the first instar, a day outside the cohort's life.
pub async fn separate_and_tag(write: &mut Write, cohort: CohortId, new: &NewTags) -> Result<Vec<AnimalId>, AppError> {
    let from = super::require(write.db(), cohort).await?;
    let line = post(write, cohort, &NewLine::tagged(new.day, new.stage, new.quantity).with_note(new.note.as_str())).await?;
    let origin = NewOrigin::Cohort(line);
    let mut animal = NewAnimal::new(from.species_id, origin, from.full_source(), new.day);
    animal.locality = from.locality;
    animal.shelf = new.shelf;
    animal.span = from.span_mm.map(|mm| NewSpan { kind: SpanKind::LegSpan, mm, method: SpanMethod::Estimated });
    animal.instar = match new.stage {
        Stage::Instar(number) => Some(i64::from(number)),
        Stage::Egg | Stage::PostEmbryo => None,
    };
    let moulted_on = last_moult_to(write.db(), cohort, new).await?;
    if moulted_on == Some(new.day) {
        // Moults from the day of tagging on are counted on top of the instar that it begins with.
        animal.instar = animal.instar.map(|instar| (instar - 1).max(1));
    }
    let mut made = Vec::new();
    for _ in 0..new.quantity {
        let id = animals::store::insert(write, &animal).await?;
        if let Some(day) = moulted_on {
            let note = format!("with cohort {}, before it was tagged: the latest that any of its stage moulted", from.code);
            let moult = NewMoult { day, skin_kept: false, note, span: None, signoff: None };
            animals::store::record_moult(write, id, &moult).await?;
        }
        handling::store::copy_holds(write, HoldSubject::Cohort(cohort), HoldSubject::Animal(id)).await?;
        made.push(id);
    }
    Ok(made)
}

/// The latest day on which any of a cohort came to the stage that is tagged; nobody knows which of them did.
async fn last_moult_to(db: &mut SqliteConnection, cohort: CohortId, new: &NewTags) -> Result<Option<NaiveDate>, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT MAX(line.day) FROM ledger_line AS line
         WHERE line.cohort_id = ? AND line.kind = 'moulted' AND line.to_bucket = ? AND line.day <= ?
           AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = line.id)",
    )
    .bind(cohort)
    .bind(new.stage)
    .bind(new.day)
    .fetch_one(db)
    .await?)
}

/// The line of a cohort's ledger that made an animal.
///
/// # Errors
/// [`AppError::NotFound`] when the animal did not come from this cohort.
pub async fn line_of(db: &mut SqliteConnection, cohort: CohortId, animal: AnimalId) -> Result<LineId, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT ledger_line.id FROM animal JOIN ledger_line ON ledger_line.id = animal.origin_line_id
         WHERE animal.id = ? AND ledger_line.cohort_id = ?",
    )
    .bind(animal)
    .bind(cohort)
    .fetch_one(db)
    .await?)
}

/// The animals that a line of a cohort's ledger made, in the order of their tags.
///
/// # Errors
/// The database can't be read.
pub async fn tagged_by(db: &mut SqliteConnection, cohort: CohortId, line: LineId) -> Result<Vec<Tagged>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag FROM animal JOIN ledger_line ON ledger_line.id = animal.origin_line_id
         WHERE ledger_line.id = ? AND ledger_line.cohort_id = ? ORDER BY animal.tag",
    )
    .bind(line)
    .bind(cohort)
    .fetch_all(db)
    .await?)
}
