//! The facts of tagged animals.

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use super::{Gathered, Moment, Scope, SpeciesRisk, StandingHold, care_book, read_json};
use crate::animals;
use crate::animals::model::moults::MoultBook;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SpeciesId};
use crate::reckoning::condition::{Condition, Scored};
use crate::reckoning::planner::{AnimalFacts, ExpectedMoult, LastMeal, RehouseNeed, Subject, SubjectKey, SubjectKind};
use crate::reckoning::words::{LifeStage, MealOutcome, MoultState};
use crate::species::store::CareBook;

#[derive(sqlx::FromRow)]
struct AnimalRow {
    id: i64,
    species_id: SpeciesId,
    #[sqlx(flatten)]
    risk: SpeciesRisk,
    started_on: NaiveDate,
    mature: bool,
    enclosure_length_mm: Option<u32>,
    rehouse_note: String,
    rehouse_due_on: Option<NaiveDate>,
    rehoused_on: Option<NaiveDate>,
    span_mm: Option<u32>,
    span_on: Option<NaiveDate>,
    meal_day: Option<NaiveDate>,
    meal_outcome: Option<MealOutcome>,
    refusals: u32,
    left_in_at: Option<DateTime<Utc>>,
    moult_day: Option<NaiveDate>,
    sign_day: Option<NaiveDate>,
    sign_state: Option<MoultState>,
    sign_since: Option<NaiveDate>,
    checked_on: Option<NaiveDate>,
    watered_on: Option<NaiveDate>,
    cleaned_on: Option<NaiveDate>,
    guarding: bool,
    condition: Option<Condition>,
    scored_on: Option<NaiveDate>,
    holds: String,
    cautions: String,
}

/// Adds the animals of a scope that are alive.
pub(super) async fn gather(db: &mut SqliteConnection, scope: Scope, moment: Moment, into: &mut Gathered) -> Result<(), AppError> {
    let rows = read(db, scope, moment).await?;
    let book = care_book(db, rows.iter().map(|row| row.species_id)).await?;
    let moults = moults(db, &rows, moment).await?;
    for row in rows {
        let holds: Vec<StandingHold> = read_json(&row.holds)?;
        let key = SubjectKey { kind: SubjectKind::Animal, id: row.id };
        let expected = moults.forecast(row.species_id, AnimalId(row.id), moment.today).map(|forecast| forecast.at_moult);
        let mut facts = row.facts(&book, moment, &holds)?;
        facts.expected_moult = expected.map(|window| ExpectedMoult { from: window.from, to: window.to });
        into.subjects.push(Subject::Animal(facts));
        into.holds.insert(key, holds);
    }
    Ok(())
}

/// What the house has learnt of the species of some animals. Of one species when they are all of it.
async fn moults(db: &mut SqliteConnection, rows: &[AnimalRow], moment: Moment) -> Result<MoultBook, AppError> {
    let moulted = || rows.iter().filter(|row| row.moult_day.is_some());
    let Some(first) = moulted().next() else { return Ok(MoultBook::default()) };
    let all_alike = moulted().all(|row| row.species_id == first.species_id);
    animals::store::moult_book(db, all_alike.then_some(first.species_id), moment.zone).await
}

impl AnimalRow {
    fn facts(self, book: &CareBook, moment: Moment, holds: &[StandingHold]) -> Result<AnimalFacts, AppError> {
        let life_stage = self.life_stage();
        let (moult_state, moult_state_since) = self.moult_state();
        Ok(AnimalFacts {
            id: self.id,
            life_stage,
            span_mm: self.span_mm,
            span_on: self.span_on,
            hazard: self.risk.facts(life_stage, read_json(&self.cautions)?),
            care: book.of(self.species_id, life_stage)?,
            enclosure_length_mm: self.enclosure_length_mm,
            started_on: self.started_on,
            last_meal: self.meal_day.zip(self.meal_outcome).map(|(day, outcome)| LastMeal { day, outcome }),
            refusals_in_row: self.refusals,
            left_in_at: self.left_in_at,
            last_moult: self.moult_day,
            expected_moult: None,
            moult_state,
            moult_state_since,
            last_moult_check: self.checked_on.max(self.sign_day).max(self.moult_day),
            last_water: self.watered_on,
            last_clean: self.cleaned_on,
            rehoused_on: self.rehoused_on,
            needs_rehouse: self.needs_rehouse(moment.today),
            guarding_sac: self.guarding,
            holds: holds.iter().map(|hold| hold.in_days(moment.zone)).collect(),
            condition: self.condition.zip(self.scored_on).map(|(condition, day)| Scored { condition, day }),
            apart: Vec::new(),
        })
    }

    fn life_stage(&self) -> LifeStage {
        self.risk.life_stage(self.span_mm, self.mature)
    }

    /// What was last seen, unless a moult has come since.
    fn moult_state(&self) -> (MoultState, Option<NaiveDate>) {
        match self.sign_state.zip(self.sign_day) {
            Some((state, seen)) if self.moult_day.is_none_or(|moult| seen > moult) => (state, self.sign_since.or(Some(seen))),
            _ => (MoultState::Normal, None),
        }
    }

    /// The note carries no day of its own, so the need dates from the day that the open duty fell due, or from today.
    fn needs_rehouse(&self, today: NaiveDate) -> Option<RehouseNeed> {
        (!self.rehouse_note.is_empty()).then(|| RehouseNeed {
            since: self.rehouse_due_on.unwrap_or(today),
            reason: self.rehouse_note.clone(),
            emergency: true,
        })
    }
}

async fn read(db: &mut SqliteConnection, scope: Scope, moment: Moment) -> Result<Vec<AnimalRow>, AppError> {
    let (first, last) = scope.ids(SubjectKind::Animal);
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.species_id, venom, setae, defensive, very_fast, adult_span_min_mm, adult_span_max_mm, animal.started_on,
                (animal.mature_on IS NOT NULL OR animal.sex_basis = 'mature') AS mature, animal.enclosure_length_mm, animal.rehouse_note,
                (SELECT due_on FROM duty WHERE duty.animal_id = animal.id AND kind = 'rehouse' AND state = 'open') AS rehouse_due_on,
                (SELECT MAX(day) FROM stock_move WHERE stock_move.animal_id = animal.id AND rehoused = 1) AS rehoused_on,
                span.mm AS span_mm, span.day AS span_on, fed.day AS meal_day, fed.outcome AS meal_outcome,
                (SELECT COUNT(*) FROM meal_standing AS m WHERE m.animal_id = animal.id AND m.outcome = 'refused' AND m.day > COALESCE(
                    (SELECT t.day FROM meal_standing AS t WHERE t.animal_id = animal.id AND t.outcome = 'took'
                     ORDER BY t.day DESC LIMIT 1), '')) AS refusals,
                (SELECT m.offered_at FROM meal_standing AS m
                 WHERE m.animal_id = animal.id AND m.outcome = 'left-in' AND m.day >= date(?4, '-40 days')
                 ORDER BY m.day DESC, m.id DESC LIMIT 1) AS left_in_at,
                (SELECT m.day FROM moult_standing AS m WHERE m.animal_id = animal.id ORDER BY m.day DESC LIMIT 1) AS moult_day,
                sign.day AS sign_day, sign.state AS sign_state,
                CASE WHEN sign.state <> 'normal' THEN
                    (SELECT MIN(s.day) FROM moult_sign_standing AS s WHERE s.animal_id = animal.id AND s.state = sign.state AND s.day > COALESCE(
                        (SELECT MAX(o.day) FROM moult_sign_standing AS o WHERE o.animal_id = animal.id AND o.state <> sign.state AND o.id < sign.id), ''))
                END AS sign_since,
                (SELECT s.day FROM duty AS d CROSS JOIN signoff AS s ON s.duty_id = d.id
                 WHERE d.animal_id = animal.id AND d.kind = 'moult-check' AND d.state = 'done' AND s.corrects_id IS NULL
                   AND s.outcome NOT IN ('could-not', 'found-dead', 'threat')
                   AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
                 ORDER BY d.id DESC LIMIT 1) AS checked_on,
                (SELECT s.day FROM duty AS d CROSS JOIN signoff AS s ON s.duty_id = d.id
                 WHERE d.animal_id = animal.id AND d.kind = 'water' AND d.state = 'done' AND s.corrects_id IS NULL
                   AND s.outcome NOT IN ('could-not', 'found-dead', 'threat')
                   AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
                 ORDER BY d.id DESC LIMIT 1) AS watered_on,
                (SELECT s.day FROM duty AS d CROSS JOIN signoff AS s ON s.duty_id = d.id
                 WHERE d.animal_id = animal.id AND d.kind = 'spot-clean' AND d.state = 'done' AND s.corrects_id IS NULL
                   AND s.outcome NOT IN ('could-not', 'found-dead', 'threat')
                   AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = s.id)
                 ORDER BY d.id DESC LIMIT 1) AS cleaned_on,
                EXISTS (SELECT 1 FROM sac WHERE sac.dam_id = animal.id AND sac.state = 'incubating' AND sac.incubation = 'with-dam') AS guarding,
                (SELECT json_group_array(json_object('kind', kind, 'blocks', blocks, 'from_at', from_at, 'until_at', until_at, 'reason', reason))
                 FROM hold WHERE hold.animal_id = animal.id AND lifted_at IS NULL AND (until_at IS NULL OR until_at > ?3)) AS holds,
                (SELECT json_group_array(json_object('level', level, 'text', text))
                 FROM caution WHERE caution.animal_id = animal.id AND ended_at IS NULL) AS cautions,
                scored.condition, scored.day AS scored_on
         FROM animal JOIN species ON species.id = animal.species_id
         LEFT JOIN measurement AS span ON span.id = (SELECT m.id FROM measurement_standing AS m
             WHERE m.animal_id = animal.id AND m.kind = 'dls' ORDER BY m.day DESC, m.id DESC LIMIT 1)
         LEFT JOIN meal AS fed ON fed.id = (SELECT m.id FROM meal_standing AS m
             WHERE m.animal_id = animal.id ORDER BY m.day DESC, m.id DESC LIMIT 1)
         LEFT JOIN moult_sign AS sign ON sign.id = (SELECT m.id FROM moult_sign_standing AS m
             WHERE m.animal_id = animal.id ORDER BY m.day DESC, m.id DESC LIMIT 1)
         LEFT JOIN body_condition AS scored ON scored.id = (SELECT m.id FROM body_condition_standing AS m
             WHERE m.animal_id = animal.id ORDER BY m.day DESC, m.id DESC LIMIT 1)
         WHERE animal.status = 'alive' AND animal.id BETWEEN ?1 AND ?2
         ORDER BY animal.id",
    )
    .bind(first)
    .bind(last)
    .bind(moment.at)
    .bind(moment.today)
    .fetch_all(db)
    .await?)
}
