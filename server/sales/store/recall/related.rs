//! What is related to an animal or a cohort, and where each of it is.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::breeding;
use crate::breeding::model::Kin;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, HandoverLineId};
use crate::sales::model::recall::{Fate, NewFound, Origin, Relation, Scope};

/// How something is related.
#[derive(Debug, Clone, Copy)]
struct Tie {
    relation: Relation,
    generation: u32,
    certain: bool,
}

/// All that is related, each once, by its closest tie.
#[derive(Default)]
struct Ties(BTreeMap<Kin, Tie>);

impl Ties {
    fn add(&mut self, kin: Kin, tie: Tie) {
        let known = self.0.entry(kin).or_insert(tie);
        known.certain |= tie.certain;
        if (tie.relation, tie.generation) < (known.relation, known.generation) {
            (known.relation, known.generation) = (tie.relation, tie.generation);
        }
    }
}

const SURE: Tie = Tie { relation: Relation::Itself, generation: 0, certain: true };

/// Everything that a recall from an animal or a cohort reaches, and where each of it is now: one row for what is in the house, died or
/// escaped, and one for each time that some of it was handed over.
///
/// # Errors
/// [`AppError::NotFound`] when the animal or cohort is not in the book.
pub async fn related(db: &mut SqliteConnection, origin: Origin, scope: Scope) -> Result<Vec<NewFound>, AppError> {
    let mut ties = Ties::default();
    ties.add(kin(origin), SURE);
    let head = if scope.mates { head_of(db, origin).await? } else { origin.cohort() };
    match (head, origin) {
        (Some(head), _) => {
            ties.add(Kin::Cohort(head), Tie { relation: Relation::Mate, ..SURE });
            descend(&mut ties, breeding::store::descendants_of_cohort(db, head).await?, scope.descent);
        }
        (None, Origin::Animal(animal)) => descend(&mut ties, breeding::store::descendants_of_animal(db, animal).await?, scope.descent),
        (None, Origin::Cohort(_)) => {}
    }
    if scope.rack {
        for kin in on_the_rack_of(db, origin).await? {
            ties.add(kin, Tie { relation: Relation::Rack, ..SURE });
        }
    }
    whereabouts(db, &ties).await
}

fn kin(origin: Origin) -> Kin {
    match origin {
        Origin::Animal(id) => Kin::Animal(id),
        Origin::Cohort(id) => Kin::Cohort(id),
    }
}

/// Generation 0 is what came out of a cohort without breeding: its mates.
fn descend(ties: &mut Ties, found: Vec<breeding::model::Descendant>, young_too: bool) {
    for one in found {
        let relation = if one.generation == 0 { Relation::Mate } else { Relation::Descendant };
        if one.generation == 0 || young_too {
            ties.add(one.kin, Tie { relation, generation: one.generation, certain: one.certain });
        }
    }
}

/// The cohort at the head of the splits that led to an animal or a cohort; none for an animal that was bought.
async fn head_of(db: &mut SqliteConnection, origin: Origin) -> Result<Option<CohortId>, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT root_id FROM cohort_root WHERE cohort_id = COALESCE(?1, (
             SELECT ledger_line.cohort_id FROM animal JOIN ledger_line ON ledger_line.id = animal.origin_line_id WHERE animal.id = ?2))",
    )
    .bind(origin.cohort())
    .bind(origin.animal())
    .fetch_optional(db)
    .await?)
}

async fn on_the_rack_of(db: &mut SqliteConnection, origin: Origin) -> Result<Vec<Kin>, AppError> {
    let rows: Vec<(Option<AnimalId>, Option<CohortId>)> = sqlx::query_as(
        "WITH near (shelf_id) AS (
             SELECT near.id FROM shelf JOIN shelf AS near ON near.rack_id = shelf.rack_id
             WHERE shelf.id = COALESCE((SELECT shelf_id FROM animal WHERE id = ?1), (SELECT shelf_id FROM cohort WHERE id = ?2)))
         SELECT animal.id, NULL FROM animal JOIN near ON near.shelf_id = animal.shelf_id
         UNION ALL
         SELECT NULL, cohort.id FROM cohort JOIN near ON near.shelf_id = cohort.shelf_id
         ORDER BY 1, 2",
    )
    .bind(origin.animal())
    .bind(origin.cohort())
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().filter_map(|(animal, cohort)| animal.map(Kin::Animal).or(cohort.map(Kin::Cohort))).collect())
}

#[derive(sqlx::FromRow)]
struct AnimalRow {
    id: AnimalId,
    status: String,
    place: String,
}

#[derive(sqlx::FromRow)]
struct CohortRow {
    id: CohortId,
    alive: u32,
    lost: u32,
    sold: u32,
    place: String,
}

#[derive(sqlx::FromRow)]
struct LineRow {
    id: HandoverLineId,
    animal_id: Option<AnimalId>,
    cohort_id: Option<CohortId>,
    quantity: u32,
    /// How many of them came back.
    back: u32,
}

/// The closest ties first, and within them by id.
async fn whereabouts(db: &mut SqliteConnection, ties: &Ties) -> Result<Vec<NewFound>, AppError> {
    let animals =
        serde_json::json!(ties.0.keys().filter_map(|kin| if let Kin::Animal(id) = kin { Some(id.0) } else { None }).collect::<Vec<_>>());
    let cohorts =
        serde_json::json!(ties.0.keys().filter_map(|kin| if let Kin::Cohort(id) = kin { Some(id.0) } else { None }).collect::<Vec<_>>());
    let (animals, cohorts) = (animals.to_string(), cohorts.to_string());
    let lines = lines_of(db, &animals, &cohorts).await?;
    let mut found = Vec::new();
    for row in animals_in(db, &animals).await? {
        if let Some(tie) = ties.0.get(&Kin::Animal(row.id)) {
            let lines: Vec<&LineRow> = lines.iter().filter(|line| line.animal_id == Some(row.id)).collect();
            found.extend(of_animal(&row, *tie, &lines));
        }
    }
    for row in cohorts_in(db, &cohorts).await? {
        if let Some(tie) = ties.0.get(&Kin::Cohort(row.id)) {
            let lines: Vec<&LineRow> = lines.iter().filter(|line| line.cohort_id == Some(row.id)).collect();
            found.extend(of_cohort(&row, *tie, &lines));
        }
    }
    found.sort_by_key(|one| (one.relation, one.generation, !one.certain, one.cohort, one.animal, one.fate, one.line));
    Ok(found)
}

fn row(tie: Tie, animal: Option<AnimalId>, cohort: Option<CohortId>, quantity: u32, fate: Fate) -> NewFound {
    let Tie { relation, generation, certain } = tie;
    NewFound { animal, cohort, quantity, relation, generation, certain, fate, place: String::new(), line: None }
}

fn of_animal(animal: &AnimalRow, tie: Tie, lines: &[&LineRow]) -> Vec<NewFound> {
    let one = |fate| row(tie, Some(animal.id), None, 1, fate);
    let now = match animal.status.as_str() {
        "sold" => Fate::Sold,
        "dead" => Fate::Dead,
        "escaped" => Fate::Escaped,
        _ => Fate::Here,
    };
    let last = lines.iter().map(|line| line.id).max();
    let left = lines.iter().map(|line| {
        let stayed_away = now == Fate::Sold && Some(line.id) == last && line.back == 0;
        NewFound { line: Some(line.id), ..one(if stayed_away { Fate::Sold } else { Fate::Returned }) }
    });
    let mut found: Vec<NewFound> = left.collect();
    if now != Fate::Sold || lines.is_empty() {
        found.push(NewFound { place: animal.place.clone(), ..one(now) });
    }
    found
}

fn of_cohort(cohort: &CohortRow, tie: Tie, lines: &[&LineRow]) -> Vec<NewFound> {
    let many = |quantity, fate| row(tie, None, Some(cohort.id), quantity, fate);
    let handed_over: u32 = lines.iter().map(|line| line.quantity).sum();
    let mut found = Vec::new();
    if cohort.alive > 0 {
        found.push(NewFound { place: cohort.place.clone(), ..many(cohort.alive, Fate::Here) });
    }
    if cohort.lost > 0 {
        found.push(many(cohort.lost, Fate::Dead));
    }
    for line in lines {
        let kept = line.quantity.saturating_sub(line.back);
        let parts = [(kept, Fate::Sold), (line.back, Fate::Returned)].into_iter().filter(|(quantity, _)| *quantity > 0);
        found.extend(parts.map(|(quantity, fate)| NewFound { line: Some(line.id), ..many(quantity, fate) }));
    }
    // Sold by an entry of the count ledger alone: nobody knows to whom.
    if cohort.sold > handed_over {
        found.push(many(cohort.sold - handed_over, Fate::Sold));
    }
    found
}

async fn animals_in(db: &mut SqliteConnection, ids: &str) -> Result<Vec<AnimalRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.status, COALESCE(place.label, '') AS place
         FROM json_each(?) AS wanted JOIN animal ON animal.id = wanted.value LEFT JOIN place ON place.shelf_id = animal.shelf_id
         ORDER BY animal.id",
    )
    .bind(ids)
    .fetch_all(db)
    .await?)
}

async fn cohorts_in(db: &mut SqliteConnection, ids: &str) -> Result<Vec<CohortRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort.id, COALESCE(place.label, '') AS place,
                COALESCE(SUM(CASE WHEN bucket.kind = 'stage' THEN balance.quantity END), 0) AS alive,
                COALESCE(SUM(CASE WHEN bucket.code = 'lost' THEN balance.quantity END), 0) AS lost,
                COALESCE(SUM(CASE WHEN bucket.code = 'sold' THEN balance.quantity END), 0) AS sold
         FROM json_each(?) AS wanted JOIN cohort ON cohort.id = wanted.value LEFT JOIN place ON place.shelf_id = cohort.shelf_id
         LEFT JOIN ledger_balance AS balance ON balance.cohort_id = cohort.id LEFT JOIN bucket ON bucket.code = balance.bucket
         GROUP BY cohort.id ORDER BY cohort.id",
    )
    .bind(ids)
    .fetch_all(db)
    .await?)
}

/// What was handed over of some animals and cohorts.
async fn lines_of(db: &mut SqliteConnection, animals: &str, cohorts: &str) -> Result<Vec<LineRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.id, line.animal_id, line.cohort_id, line.quantity,
                (SELECT COALESCE(SUM(back.quantity), 0) FROM sale_return AS back WHERE back.handover_line_id = line.id) AS back
         FROM handover_line AS line JOIN handover ON handover.id = line.handover_id
         WHERE handover.state = 'done'
           AND (line.animal_id IN (SELECT value FROM json_each(?1)) OR line.cohort_id IN (SELECT value FROM json_each(?2)))
         ORDER BY line.id",
    )
    .bind(animals)
    .bind(cohorts)
    .fetch_all(db)
    .await?)
}
