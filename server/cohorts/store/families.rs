//! The cohorts of a species as families: a cohort with all that was split off it, which is followed as one.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::ledger::{CohortLine, lines_of_species};
use crate::cohorts::model::family::Family;
use crate::house::errors::AppError;
use crate::house::ids::{CohortId, SpeciesId};
use crate::reckoning::survival::{OriginDays, TaggedEnd};
use crate::reckoning::words::LossCause;

#[derive(sqlx::FromRow)]
struct MemberRow {
    id: CohortId,
    root_id: CohortId,
    code: String,
    started_on: NaiveDate,
    laid_on: Option<NaiveDate>,
    separated_on: Option<NaiveDate>,
}

#[derive(sqlx::FromRow)]
struct TaggedRow {
    cohort_id: CohortId,
    line: i64,
    ended_on: Option<NaiveDate>,
    cause: Option<LossCause>,
}

/// Every family of a species, the oldest first, with its ledgers as one and what became of its tagged animals.
///
/// # Errors
/// The database can't be read.
pub async fn families(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<Family>, AppError> {
    let members = members(db, species).await?;
    let root_of: BTreeMap<CohortId, CohortId> = members.iter().map(|member| (member.id, member.root_id)).collect();
    let mut families: BTreeMap<CohortId, Family> = BTreeMap::new();
    for member in members {
        let family = families.entry(member.root_id).or_insert_with(|| Family {
            code: member.code.clone(),
            started_on: member.started_on,
            days: OriginDays { laid: member.laid_on, separated: member.separated_on },
            members: Vec::new(),
            lines: Vec::new(),
            tagged: Vec::new(),
        });
        family.members.push(member.id);
    }
    let lines = lines_of_species(db, Some(species)).await?;
    let inside = splits(&lines);
    for row in lines {
        let is_inside = inside.contains(&row.line.id) || row.line.reverses_id.is_some_and(|of| inside.contains(&of));
        if let Some(family) = root_of.get(&row.cohort_id).and_then(|root| families.get_mut(root)).filter(|_| !is_inside) {
            family.lines.push(row.line.line());
        }
    }
    for row in tagged(db, species).await? {
        if let Some(family) = root_of.get(&row.cohort_id).and_then(|root| families.get_mut(root)) {
            let died_on = row.ended_on.zip(row.cause);
            family.tagged.push(TaggedEnd { line: row.line, died_on, left_on: row.ended_on.filter(|_| died_on.is_none()) });
        }
    }
    let mut families: Vec<Family> = families.into_values().collect();
    families.sort_by_key(|family| (family.started_on, family.code.clone()));
    Ok(families)
}

/// The lines by which spiderlings went over from one member of a family to another: for the family nobody left or came.
fn splits(lines: &[CohortLine]) -> BTreeSet<i64> {
    lines.iter().filter_map(|row| row.moved_line_id.map(|left| [left, row.line.id])).flatten().collect()
}

async fn members(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<MemberRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort.id, cohort_root.root_id, cohort.code, cohort.started_on, sac.laid_on, cohort.separated_on
         FROM cohort JOIN cohort_root ON cohort_root.cohort_id = cohort.id LEFT JOIN sac ON sac.id = cohort.sac_id
         WHERE cohort.species_id = ? ORDER BY cohort_root.depth, cohort.id",
    )
    .bind(species)
    .fetch_all(db)
    .await?)
}

/// What became of the animals that were tagged out of the cohorts of a species.
async fn tagged(db: &mut SqliteConnection, species: SpeciesId) -> Result<Vec<TaggedRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.cohort_id, line.id AS line, animal.status_on AS ended_on, animal.loss_cause AS cause
         FROM cohort JOIN ledger_line AS line ON line.cohort_id = cohort.id JOIN animal ON animal.origin_line_id = line.id
         WHERE cohort.species_id = ? ORDER BY animal.id",
    )
    .bind(species)
    .fetch_all(db)
    .await?)
}
