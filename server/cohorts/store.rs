//! All SQL of cohorts: the book of cohorts here, the count ledger and the rest below.

mod care;
mod families;
mod holdback;
mod ledger;
mod lists;
mod losses;
mod tags;
mod tally;

use sqlx::SqliteConnection;

use super::model::{Cohort, CohortOrigin, NewCohort, NewLine, NewOrigin, code_letters};
use crate::house::errors::AppError;
use crate::house::ids::CohortId;
use crate::house::write::Write;
use crate::reckoning::hazard::{Hazard, HazardFacts, assess};
use crate::reckoning::words::LifeStage;
use crate::rooms;
use crate::species;

pub(super) use care::check_shelf;
pub use care::{clear_left_in, record_meal, record_meal_from, record_move, separate, set_span, strike_out};
pub use families::families;
pub use holdback::{TaggedCandidate, held_back, hold_back, tagged_alive};
pub use ledger::{alive, balance_on, entered, lines, post, recount, reverse, reverse_because, split, standing, touched_by};
pub use lists::{FromSac, Listed, PER_PAGE, from_sac, list, stages};
pub use losses::{alarmed, judged_one, look_into, reviews};
pub use tags::{Tagged, line_of, separate_and_tag, tagged_by};
pub use tally::{keep_tally, separate_counted, tallies};

/// One cohort.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: CohortId) -> Result<Cohort, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort.id, cohort.code, cohort.species_id, species.accepted_name AS species, cohort.origin, cohort.sac_id,
                cohort.parent_cohort_id, parent.code AS parent_code, cohort.supplier, cohort.papers, cohort.source_code,
                cohort.pre_convention, cohort.locality, cohort.started_on, cohort.housing, cohort.separated_on, cohort.shelf_id,
                cohort.position, place.label AS place, cohort.span_mm, cohort.note
         FROM cohort JOIN species ON species.id = cohort.species_id
         LEFT JOIN cohort AS parent ON parent.id = cohort.parent_cohort_id
         LEFT JOIN place ON place.shelf_id = cohort.shelf_id
         WHERE cohort.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// The cohort of a code.
///
/// # Errors
/// The database can't be read.
pub async fn find_by_code(db: &mut SqliteConnection, code: &str) -> Result<Option<CohortId>, AppError> {
    Ok(sqlx::query_scalar("SELECT id FROM cohort WHERE code = ?").bind(code.trim()).fetch_optional(db).await?)
}

/// Adds a cohort with the count that it begins with, and makes its code when none is given.
///
/// # Errors
/// A first day still to come, a code that is taken, a sac that has been opened before.
pub async fn insert(write: &mut Write, new: &NewCohort) -> Result<CohortId, AppError> {
    check_shelf(write.db(), new.shelf).await?;
    if new.started_on > write.today {
        return Err(AppError::refused("day", format!("This day is still to come; the latest possible is {}.", write.today)));
    }
    let species = match species::store::require(write.db(), new.species_id).await {
        Err(AppError::NotFound) => return Err(AppError::refused("species", "This species is not in the book. Choose one of the list.")),
        answer => answer?.accepted_name,
    };
    let code = match &new.code {
        Some(code) => code.clone(),
        None => next_code(write.db(), &format!("{}-{}-", code_letters(&species), new.started_on.format("%y"))).await?,
    };
    let (origin, sac, parent, supplier, papers) = match &new.origin {
        NewOrigin::Sac(sac) => (CohortOrigin::Sac, Some(*sac), None, "", ""),
        NewOrigin::Bought { supplier, papers } => (CohortOrigin::Bought, None, None, supplier.as_str(), papers.as_str()),
        NewOrigin::Split(parent) => (CohortOrigin::Split, None, Some(*parent), "", ""),
    };
    let separated = (new.housing == super::model::Housing::Vials).then_some(new.started_on);
    let now = write.at;
    let id: CohortId = sqlx::query_scalar(
        "INSERT INTO cohort (code, species_id, origin, sac_id, parent_cohort_id, supplier, papers, source_code, pre_convention, locality,
                             started_on, housing, separated_on, shelf_id, position, span_mm, note, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(code)
    .bind(new.species_id)
    .bind(origin)
    .bind(sac)
    .bind(parent)
    .bind(supplier)
    .bind(papers)
    .bind(new.source.code)
    .bind(new.source.pre_convention)
    .bind(&new.locality)
    .bind(new.started_on)
    .bind(new.housing)
    .bind(separated)
    .bind(new.shelf)
    .bind(new.position)
    .bind(new.span_mm)
    .bind(&new.note)
    .bind(now)
    .fetch_one(write.db())
    .await?;
    for (stage, quantity) in &new.counts {
        post(write, id, &NewLine::received(new.started_on, *stage, *quantity)).await?;
    }
    Ok(id)
}

/// The first code with these letters that no cohort has.
async fn next_code(db: &mut SqliteConnection, letters: &str) -> Result<String, AppError> {
    let last: i64 = sqlx::query_scalar(
        "SELECT COALESCE(MAX(CAST(substr(code, length(?1) + 1) AS INTEGER)), 0) FROM cohort WHERE substr(code, 1, length(?1)) = ?1",
    )
    .bind(letters)
    .fetch_one(db)
    .await?;
    Ok(format!("{letters}{}", last + 1))
}

/// What bears on people's safety with a cohort. Spiderlings are taken as such until a span says otherwise.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such cohort.
pub async fn hazard(db: &mut SqliteConnection, id: CohortId) -> Result<(HazardFacts, Hazard), AppError> {
    let cohort = require(&mut *db, id).await?;
    let species = species::store::require(&mut *db, cohort.species_id).await?;
    let stage = if cohort.span_mm.is_some() { species.life_stage(cohort.span_mm, false) } else { LifeStage::Spiderling };
    let facts = species.hazard_facts(stage, Vec::new());
    let hazard = assess(&facts);
    Ok((facts, hazard))
}

/// A place in words: its shelf and position, or that it has none.
pub(super) async fn place_label(
    db: &mut SqliteConnection,
    shelf: Option<crate::house::ids::ShelfId>,
    position: Option<i64>,
) -> Result<String, AppError> {
    let Some(shelf) = shelf else { return Ok("no place".to_owned()) };
    let label = rooms::store::shelf_label(db, shelf).await?;
    Ok(position.map_or_else(|| label.clone(), |position| format!("{label} · {position}")))
}
