//! All that descends from one animal or one cohort, generation by generation: through sacs, cohorts, what was split off
//! them and the animals that were tagged out of them.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::breeding::model::{Descendant, Kin, Way};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId};

/// Everything that descends from an animal, however many generations on; the nearest generation first. A sac counts through
/// the dam that laid it and through each male that may have sired it.
///
/// # Errors
/// The database can't be read.
pub async fn descendants_of_animal(db: &mut SqliteConnection, id: AnimalId) -> Result<Vec<Descendant>, AppError> {
    descendants(db, Some(id), None).await
}

/// Everything that comes out of a cohort: in generation 0 what was split off it and the animals tagged out of it and of
/// those, from generation 1 on their young.
///
/// # Errors
/// The database can't be read.
pub async fn descendants_of_cohort(db: &mut SqliteConnection, id: CohortId) -> Result<Vec<Descendant>, AppError> {
    descendants(db, None, Some(id)).await
}

#[derive(sqlx::FromRow)]
struct Step {
    animal_id: Option<AnimalId>,
    cohort_id: Option<CohortId>,
    generation: u32,
    as_dam: bool,
    as_sire: bool,
    certain: bool,
}

/// Walks down from one animal or one cohort. Each arm is one kind of step; no descent is followed beyond sixty generations,
/// so that a book whose parents run in a circle is still read to its end.
async fn descendants(db: &mut SqliteConnection, animal: Option<AnimalId>, cohort: Option<CohortId>) -> Result<Vec<Descendant>, AppError> {
    let steps: Vec<Step> = sqlx::query_as(
        "WITH RECURSIVE sired AS MATERIALIZED (
             SELECT possible_sire.sire_id, possible_sire.certain, cohort.id AS cohort_id
             FROM possible_sire JOIN cohort ON cohort.sac_id = possible_sire.sac_id
         ),
         descent (animal_id, cohort_id, generation, as_dam, as_sire, certain) AS (
             SELECT ?1, ?2, 0, 0, 0, 1
             UNION
             SELECT NULL, cohort.id, descent.generation + 1, 1, 0, descent.certain
             FROM descent JOIN sac ON sac.dam_id = descent.animal_id JOIN cohort ON cohort.sac_id = sac.id
             WHERE descent.generation < 60
             UNION
             SELECT NULL, sired.cohort_id, descent.generation + 1, 0, 1, MIN(descent.certain, sired.certain)
             FROM descent JOIN sired ON sired.sire_id = descent.animal_id
             WHERE descent.generation < 60
             UNION
             SELECT NULL, part.id, descent.generation, descent.as_dam, descent.as_sire, descent.certain
             FROM descent JOIN cohort AS part ON part.parent_cohort_id = descent.cohort_id
             UNION
             SELECT animal.id, NULL, descent.generation, descent.as_dam, descent.as_sire, descent.certain
             FROM descent JOIN ledger_line ON ledger_line.cohort_id = descent.cohort_id
             JOIN animal ON animal.origin_line_id = ledger_line.id
         )
         SELECT animal_id, cohort_id, generation, as_dam, as_sire, certain FROM descent
         WHERE animal_id IS NOT ?1 OR cohort_id IS NOT ?2
         ORDER BY generation, cohort_id, animal_id",
    )
    .bind(animal)
    .bind(cohort)
    .fetch_all(db)
    .await?;
    Ok(together(&steps))
}

/// One descendant for all the paths that lead to it: the fewest generations, certain when any path is.
fn together(steps: &[Step]) -> Vec<Descendant> {
    let mut found: BTreeMap<(u32, Kin), (bool, bool, bool)> = BTreeMap::new();
    let mut nearest: BTreeMap<Kin, u32> = BTreeMap::new();
    for step in steps {
        let Some(kin) = step.cohort_id.map(Kin::Cohort).or(step.animal_id.map(Kin::Animal)) else { continue };
        let generation = *nearest.entry(kin).and_modify(|least| *least = step.generation.min(*least)).or_insert(step.generation);
        let ways = found.entry((generation, kin)).or_default();
        ways.0 |= step.as_dam;
        ways.1 |= step.as_sire;
        ways.2 |= step.certain;
    }
    let descendant = |((generation, kin), (dam, sire, certain))| {
        let way = match (dam, sire) {
            (true, true) => Some(Way::Both),
            (true, false) => Some(Way::Dam),
            (false, true) => Some(Way::Sire),
            (false, false) => None,
        };
        Descendant { kin, generation, way, certain }
    };
    found.into_iter().map(descendant).collect()
}
