//! What a buyer brings back: the animal itself, or a number that is counted as a cohort of its own. Either goes into quarantine.

use sqlx::SqliteConnection;

use super::{require_handover, road};
use crate::animals;
use crate::cohorts;
use crate::cohorts::model::{NewCohort, NewOrigin};
use crate::handling;
use crate::handling::model::{HoldSubject, NewHold};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, HandoverId, HandoverLineId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{Exposure, HoldKind};
use crate::sales::model::{Handover, HandoverState, Line, NewReturn, Returned};

/// What came back of a handover, in the order it came.
///
/// # Errors
/// The database can't be read.
pub async fn of(db: &mut SqliteConnection, id: HandoverId) -> Result<Vec<Returned>, AppError> {
    Ok(sqlx::query_as(
        "SELECT back.handover_line_id, back.animal_id, back.cohort_id, COALESCE(animal.tag, cohort.code) AS label, back.quantity, back.day,
                back.reason, back.condition, member.name AS member_name
         FROM handover_line AS line JOIN sale_return AS back ON back.handover_line_id = line.id
         LEFT JOIN animal ON animal.id = back.animal_id LEFT JOIN cohort ON cohort.id = back.cohort_id
         LEFT JOIN member ON member.id = back.member_id
         WHERE line.handover_id = ? ORDER BY back.id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// How many of a line are still with the buyer: neither brought back nor dead on arrival.
///
/// # Errors
/// The database can't be read.
pub async fn still_out(db: &mut SqliteConnection, line: HandoverLineId) -> Result<u32, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT MAX(line.quantity - (SELECT COALESCE(SUM(quantity), 0) FROM sale_return WHERE handover_line_id = line.id)
                    - (SELECT COALESCE(SUM(told.dead), 0) FROM arrival_standing AS arrival
                       JOIN arrival_line AS told ON told.arrival_id = arrival.id AND told.handover_line_id = line.id
                       WHERE arrival.handover_id = line.handover_id), 0)
         FROM handover_line AS line WHERE line.id = ?",
    )
    .bind(line)
    .fetch_one(db)
    .await?)
}

/// What came back into the house.
#[derive(Debug, Clone)]
pub enum Back {
    /// The animal, alive in the book again.
    Animal(AnimalId, String),
    /// A cohort that was made for a number.
    Cohort(CohortId, String),
}

/// Takes something back into quarantine.
///
/// # Errors
/// A handover that is not done; a day before it; more than are with the buyer; a stage before the one that was sold.
pub async fn take_back(write: &mut Write, id: HandoverId, new: &NewReturn) -> Result<Back, AppError> {
    let handover = require_handover(write.db(), id).await?;
    if handover.state != HandoverState::Done {
        return Err(AppError::conflict("This handover is not done, so nothing comes back from it."));
    }
    let lines = super::lines(write.db(), id).await?;
    let line = lines.iter().find(|line| line.id == new.line).ok_or_else(|| AppError::refused("line", "Choose one of the list."))?;
    check(write, &handover, line, new).await?;
    let until_at = Some(road::end_of(write.zone, new.quarantine_until)?);
    let (back, subject) = match (line.animal_id, line.cohort_id, line.stage) {
        (Some(animal), _, _) => {
            insert(write, new, Some(animal), None).await?;
            animals::store::record_back_from_buyer(write, animal, new.day, new.shelf).await?;
            (Back::Animal(animal, line.label.clone()), HoldSubject::Animal(animal))
        }
        (None, Some(cohort), Some(stage)) => {
            let cohort = new_cohort(write, id, cohort, new.stage.unwrap_or(stage), new).await?;
            insert(write, new, None, Some(cohort)).await?;
            let code = cohorts::store::require(write.db(), cohort).await?.code;
            (Back::Cohort(cohort, code), HoldSubject::Cohort(cohort))
        }
        _ => return Err(AppError::NotFound),
    };
    // The reason stays with the return, which is blanked when the buyer is erased.
    let reason = format!("brought back, handover {id}");
    let hold = NewHold { subject, kind: HoldKind::Quarantine, blocks: Exposure::HandsIn, until_at, reason, signoff: None };
    handling::store::add_hold(write, &hold).await?;
    Ok(back)
}

async fn check(write: &mut Write, handover: &Handover, line: &Line, new: &NewReturn) -> Result<(), AppError> {
    if handover.day.is_some_and(|sold| new.day < sold) {
        return Err(AppError::refused("day", format!("This is before it was handed over on {}.", text::day_or_dash(&handover.day))));
    }
    let out = still_out(write.db(), new.line).await?;
    if new.quantity > out {
        return Err(AppError::refused(
            "quantity",
            format!("Only {out} of this line are with the buyer: the others came back or arrived dead."),
        ));
    }
    if line.stage.zip(new.stage).is_some_and(|(sold, now)| now < sold) {
        return Err(AppError::refused("stage", "Nobody moults back: choose the stage that was sold, or a later one."));
    }
    Ok(())
}

/// Nobody knows what a buyer's spiderlings met with, so they are not put back among their own: they come in as a cohort split off
/// the one they were sold from, and survival follows them again from this day.
async fn new_cohort(write: &mut Write, id: HandoverId, from: CohortId, stage: Stage, new: &NewReturn) -> Result<CohortId, AppError> {
    let parent = cohorts::store::require(write.db(), from).await?;
    let cohort = NewCohort {
        code: None,
        species_id: parent.species_id,
        origin: NewOrigin::Split(from),
        source: parent.full_source(),
        locality: parent.locality.clone(),
        started_on: new.day,
        housing: parent.housing,
        shelf: new.shelf,
        position: None,
        span_mm: parent.span_mm,
        note: format!("brought back by a buyer, handover {id}"),
        counts: vec![(stage, new.quantity)],
    };
    cohorts::store::insert(write, &cohort).await
}

async fn insert(write: &mut Write, new: &NewReturn, animal: Option<AnimalId>, cohort: Option<CohortId>) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO sale_return (handover_line_id, animal_id, cohort_id, quantity, day, reason, condition, member_id, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(new.line)
    .bind(animal)
    .bind(cohort)
    .bind(new.quantity)
    .bind(new.day)
    .bind(&new.reason)
    .bind(&new.condition)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}
