//! The facts of cohorts in which anything is alive.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use super::{Gathered, Moment, Scope, SpeciesRisk, StandingHold, care_book, read_json};
use crate::house::errors::AppError;
use crate::house::ids::SpeciesId;
use crate::reckoning::planner::{CohortFacts, CountOff, LastMeal, Subject, SubjectKey, SubjectKind};
use crate::reckoning::words::{LifeStage, MealOutcome};
use crate::species::store::CareBook;

#[derive(sqlx::FromRow)]
struct CohortRow {
    id: i64,
    species_id: SpeciesId,
    #[sqlx(flatten)]
    risk: SpeciesRisk,
    started_on: NaiveDate,
    in_vials: bool,
    span_mm: Option<u32>,
    counts: String,
    meal_day: Option<NaiveDate>,
    took: Option<u32>,
    refused: Option<u32>,
    left_in: Option<u32>,
    left_in_at: Option<DateTime<Utc>>,
    moult_day: Option<NaiveDate>,
    moulted_then: u32,
    checked_on: Option<NaiveDate>,
    watered_on: Option<NaiveDate>,
    cleaned_on: Option<NaiveDate>,
    counted_on: Option<NaiveDate>,
    recounted_on: Option<NaiveDate>,
    holds: String,
}

/// Adds the cohorts of a scope in which anything is alive.
pub(super) async fn gather(db: &mut SqliteConnection, scope: Scope, moment: Moment, into: &mut Gathered) -> Result<(), AppError> {
    let rows = read(db, scope, moment).await?;
    let book = care_book(db, rows.iter().map(|row| row.species_id)).await?;
    let mut counts_off = counts_off(db, scope).await?;
    for row in rows {
        let holds: Vec<StandingHold> = read_json(&row.holds)?;
        let key = SubjectKey { kind: SubjectKind::Cohort, id: row.id };
        let count_off = counts_off.remove(&row.id);
        let facts = CohortFacts { count_off, ..row.facts(&book, moment, &holds)? };
        into.subjects.push(Subject::Cohort(facts));
        into.holds.insert(key, holds);
    }
    Ok(())
}

impl CohortRow {
    fn facts(self, book: &CareBook, moment: Moment, holds: &[StandingHold]) -> Result<CohortFacts, AppError> {
        // A cohort that nobody has measured is one of spiderlings.
        let life_stage = match self.span_mm {
            None => LifeStage::Spiderling,
            Some(span) => self.risk.life_stage(Some(span), false),
        };
        Ok(CohortFacts {
            id: self.id,
            in_vials: self.in_vials,
            counts: read_json(&self.counts)?,
            hazard: self.risk.facts(life_stage, Vec::new()),
            care: book.of(self.species_id, life_stage)?,
            span_mm: self.span_mm,
            started_on: self.started_on,
            last_meal: self.meal_day.map(|day| LastMeal { day, outcome: self.outcome() }),
            left_in_at: self.left_in_at,
            last_moult: self.moult_day,
            moulted_then: self.moulted_then,
            last_moult_check: self.checked_on,
            last_water: self.watered_on,
            last_clean: self.cleaned_on,
            last_count: self.counted_on.max(self.recounted_on),
            count_off: None,
            holds: holds.iter().map(|hold| hold.in_days(moment.zone)).collect(),
            apart: Vec::new(),
        })
    }

    /// What became of the group's last meal: taken when at least as many took it as refused.
    fn outcome(&self) -> MealOutcome {
        if self.left_in.unwrap_or(0) > 0 {
            MealOutcome::LeftIn
        } else if self.took.unwrap_or(0) >= self.refused.unwrap_or(0) {
            MealOutcome::Took
        } else {
            MealOutcome::Refused
        }
    }
}

/// The last full count of each cohort of a scope that did not agree with the book, and by how many it was off.
async fn counts_off(db: &mut SqliteConnection, scope: Scope) -> Result<HashMap<i64, CountOff>, AppError> {
    let (first, last) = scope.ids(SubjectKind::Cohort);
    let days: Vec<(i64, NaiveDate, u32)> = sqlx::query_as(
        "SELECT l.cohort_id, l.day, ABS(SUM(l.quantity * ((entered.kind = 'stage') - (gone.kind = 'stage'))))
         FROM ledger_line AS l JOIN bucket AS entered ON entered.code = l.to_bucket JOIN bucket AS gone ON gone.code = l.from_bucket
         WHERE l.cohort_id BETWEEN ? AND ? AND l.kind = 'recounted'
           AND NOT EXISTS (SELECT 1 FROM ledger_line AS r WHERE r.reverses_id = l.id)
         GROUP BY l.cohort_id, l.day ORDER BY l.cohort_id, l.day",
    )
    .bind(first)
    .bind(last)
    .fetch_all(db)
    .await?;
    Ok(days.into_iter().map(|(cohort, day, by)| (cohort, CountOff { day, by })).collect())
}

async fn read(db: &mut SqliteConnection, scope: Scope, moment: Moment) -> Result<Vec<CohortRow>, AppError> {
    let (first, last) = scope.ids(SubjectKind::Cohort);
    Ok(sqlx::query_as(
        "SELECT cohort.id, cohort.species_id, venom, setae, defensive, very_fast, adult_span_min_mm, adult_span_max_mm, cohort.started_on,
                cohort.housing = 'vials' AS in_vials, cohort.span_mm,
                (SELECT json_group_object(b.bucket, b.quantity) FROM ledger_balance AS b JOIN bucket ON bucket.code = b.bucket
                 WHERE b.cohort_id = cohort.id AND bucket.kind = 'stage' AND b.quantity > 0) AS counts,
                fed.day AS meal_day, fed.took, fed.refused, fed.left_in,
                (SELECT m.offered_at FROM cohort_meal_standing AS m
                 WHERE m.cohort_id = cohort.id AND m.left_in > 0 AND m.day >= date(?4, '-40 days')
                 ORDER BY m.day DESC, m.id DESC LIMIT 1) AS left_in_at,
                moulted.day AS moult_day,
                (SELECT COALESCE(SUM(l.quantity), 0) FROM ledger_line AS l
                 WHERE l.cohort_id = cohort.id AND l.day = moulted.day AND l.kind = 'moulted' AND l.to_bucket NOT IN ('ewl', 'i1')
                   AND NOT EXISTS (SELECT 1 FROM ledger_line AS r WHERE r.reverses_id = l.id)) AS moulted_then,
                (SELECT s.day FROM duty AS d CROSS JOIN signoff AS s ON s.duty_id = d.id
                 WHERE d.cohort_id = cohort.id AND d.kind = 'moult-check' AND d.state = 'done' AND s.corrects_id IS NULL
                   AND s.outcome NOT IN ('could-not', 'found-dead', 'threat')
                   AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
                 ORDER BY d.id DESC LIMIT 1) AS checked_on,
                (SELECT s.day FROM duty AS d CROSS JOIN signoff AS s ON s.duty_id = d.id
                 WHERE d.cohort_id = cohort.id AND d.kind = 'water' AND d.state = 'done' AND s.corrects_id IS NULL
                   AND s.outcome NOT IN ('could-not', 'found-dead', 'threat')
                   AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
                 ORDER BY d.id DESC LIMIT 1) AS watered_on,
                (SELECT s.day FROM duty AS d CROSS JOIN signoff AS s ON s.duty_id = d.id
                 WHERE d.cohort_id = cohort.id AND d.kind = 'spot-clean' AND d.state = 'done' AND s.corrects_id IS NULL
                   AND s.outcome NOT IN ('could-not', 'found-dead', 'threat')
                   AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
                 ORDER BY d.id DESC LIMIT 1) AS cleaned_on,
                (SELECT s.day FROM duty AS d CROSS JOIN signoff AS s ON s.duty_id = d.id
                 WHERE d.cohort_id = cohort.id AND d.kind = 'cohort-count' AND d.state = 'done' AND s.corrects_id IS NULL
                   AND s.outcome NOT IN ('could-not', 'found-dead', 'threat')
                   AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
                 ORDER BY d.id DESC LIMIT 1) AS counted_on,
                (SELECT MAX(l.day) FROM ledger_line AS l WHERE l.cohort_id = cohort.id AND l.kind = 'recounted'
                   AND NOT EXISTS (SELECT 1 FROM ledger_line AS r WHERE r.reverses_id = l.id)) AS recounted_on,
                (SELECT json_group_array(json_object('kind', kind, 'blocks', blocks, 'from_at', from_at, 'until_at', until_at, 'reason', reason))
                 FROM hold WHERE hold.cohort_id = cohort.id AND lifted_at IS NULL AND (until_at IS NULL OR until_at > ?3)) AS holds
         FROM cohort JOIN species ON species.id = cohort.species_id
         LEFT JOIN cohort_meal AS fed ON fed.id = (SELECT m.id FROM cohort_meal_standing AS m
             WHERE m.cohort_id = cohort.id ORDER BY m.day DESC, m.id DESC LIMIT 1)
         LEFT JOIN ledger_line AS moulted ON moulted.id = (SELECT l.id FROM ledger_line AS l
             WHERE l.cohort_id = cohort.id AND l.kind = 'moulted'
               AND NOT EXISTS (SELECT 1 FROM ledger_line AS r WHERE r.reverses_id = l.id)
             ORDER BY l.to_bucket IN ('ewl', 'i1'), l.day DESC LIMIT 1)
         WHERE cohort.id BETWEEN ?1 AND ?2
           AND EXISTS (SELECT 1 FROM ledger_balance AS b JOIN bucket ON bucket.code = b.bucket
                       WHERE b.cohort_id = cohort.id AND bucket.kind = 'stage' AND b.quantity > 0)
         ORDER BY cohort.id",
    )
    .bind(first)
    .bind(last)
    .bind(moment.at)
    .bind(moment.today)
    .fetch_all(db)
    .await?)
}
