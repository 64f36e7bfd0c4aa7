//! Gathers what bears on whether each line of a handover may leave today.

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::animals;
use crate::cohorts;
use crate::handling;
use crate::handling::model::Hold;
use crate::house::clock::local_date;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, HandoverId};
use crate::papers::model::lot_life_stage;
use crate::reckoning::calendar::{days_after, written};
use crate::reckoning::moult::{fast_in, span_or_largest};
use crate::reckoning::planner::HoldFacts;
use crate::reckoning::provenance::{Source, SourceCode};
use crate::reckoning::sale_readiness::{Lot as LotFacts, SaleFacts, readiness, readiness_to_send};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::MoultState;
use crate::sales::model::{CheckedLine, Item, Keeper, Line, Lot, OutingLine, Way};
use crate::species;

/// The lines of a handover, each with what speaks against its leaving at that instant.
///
/// # Errors
/// The database can't be read.
pub async fn checked_lines(db: &mut SqliteConnection, id: HandoverId, now: DateTime<Utc>, zone: Tz) -> Result<Vec<CheckedLine>, AppError> {
    let mut checked = Vec::new();
    for line in super::lines(&mut *db, id).await? {
        checked.push(check(&mut *db, line, now, zone).await?);
    }
    Ok(checked)
}

/// One line with what speaks against its leaving at that instant.
///
/// # Errors
/// The database can't be read.
pub async fn check(db: &mut SqliteConnection, line: Line, now: DateTime<Utc>, zone: Tz) -> Result<CheckedLine, AppError> {
    let (keeper, sent, at_stall) = match line.handover_id {
        Some(id) => {
            let handover = super::require_handover(&mut *db, id).await?;
            let keeper = super::reserved::keeper_of(&mut *db, id).await?;
            (keeper, handover.way == Way::Dispatch, super::outings::left_at_stall(&mut *db, id).await?)
        }
        None => (Keeper::default(), false, None),
    };
    let day = local_date(zone, now);
    let (facts, hazard) = match line.item().ok_or(AppError::NotFound)? {
        Item::Animal(animal) => (animal_facts(&mut *db, animal, now, zone).await?, animals::store::hazard(db, animal).await?.1),
        Item::Lot(lot) => (lot_facts(&mut *db, &line, lot, now, zone, keeper).await?, cohorts::store::hazard(db, lot.cohort).await?.1),
    };
    let reserved = match line.animal_id {
        Some(animal) => super::reserved::kept_until(&mut *db, animal, day, keeper).await?,
        None => None,
    };
    let impossible = match (&facts.not_available, facts.lot) {
        (None, None) => reserved.map(|until| {
            format!("Tag {} is reserved for somebody else until {}. Take it off the list, or release it first.", line.label, written(until))
        }),
        (Some(status), _) => Some(format!("Tag {} is not in the house: {status}. Take it off the list.", line.label)),
        (None, Some(lot)) if lot.asked > lot.free => {
            let stage = line.stage.map_or_else(String::new, Stage::label);
            Some(format!("{} asked for, but cohort {} has {} free at {stage}. Enter fewer.", lot.asked, line.label, lot.free))
        }
        _ => None,
    };
    let impossible = impossible.or_else(|| not_left(&line, at_stall.as_deref()?));
    let band = Some(i64::from(hazard.band.level()));
    let findings = if sent { readiness_to_send(&facts, day) } else { readiness(&facts, day) };
    Ok(CheckedLine { findings, line, band, impossible })
}

/// Why a line can't be sold at a stall: fewer are left of it there.
fn not_left(line: &Line, stall: &[OutingLine]) -> Option<String> {
    let left = super::outings::left_of(stall, line.item()?);
    let what = crate::house::text::capitalised(&line.words());
    (left < line.quantity).then(|| format!("{what}: {left} are left on the outing. Enter fewer, or take it off the list."))
}

#[derive(sqlx::FromRow)]
struct AnimalRow {
    last_fed: Option<NaiveDate>,
    prey_left_in: bool,
    guarding_sac: bool,
    listed: bool,
    has_papers: bool,
}

async fn animal_facts(db: &mut SqliteConnection, id: AnimalId, now: DateTime<Utc>, zone: Tz) -> Result<SaleFacts, AppError> {
    let animal = animals::store::require(&mut *db, id).await?;
    let row = animal_row(&mut *db, id).await?;
    let holds = in_days(handling::store::holds_of_animal(&mut *db, id, now).await?, zone);
    Ok(SaleFacts {
        not_available: (!animal.is_alive()).then(|| match animal.status_on {
            Some(day) => format!("{} on {}", animal.status, written(day)),
            None => animal.status.to_string(),
        }),
        stage: animal.instar().and_then(|number| u8::try_from(number).ok()).map(Stage::Instar).filter(|stage| stage.is_counted()),
        life_stage: animal.life_stage(),
        span_mm: animal.span_mm.and_then(|span| u32::try_from(span).ok()),
        last_moult: animal.last_moult_on,
        ate_since_moult: animal.last_moult_on.is_none_or(|moulted| row.last_fed.is_some_and(|fed| fed > moulted)),
        moult_state: animal.moult_state,
        holds,
        guarding_sac: row.guarding_sac,
        held_back: false,
        listed: row.listed,
        source: Some(Source { code: animal.source_code, pre_convention: animal.pre_convention }),
        has_papers: row.has_papers,
        last_fed: row.last_fed,
        prey_left_in: row.prey_left_in,
        lot: None,
        fast: species::store::rules_now(&mut *db, animal.species_id).await?.fast,
    })
}

/// Papers of a bred animal are its own, those of its brood, or those of both its parents.
async fn animal_row(db: &mut SqliteConnection, id: AnimalId) -> Result<AnimalRow, AppError> {
    Ok(sqlx::query_as(
        "SELECT (SELECT MAX(day) FROM meal_standing WHERE meal_standing.animal_id = animal.id AND outcome = 'took') AS last_fed,
                EXISTS (SELECT 1 FROM meal_standing WHERE meal_standing.animal_id = animal.id AND outcome = 'left-in') AS prey_left_in,
                EXISTS (SELECT 1 FROM sac WHERE sac.dam_id = animal.id AND sac.state = 'incubating'
                        AND sac.incubation = 'with-dam') AS guarding_sac,
                EXISTS (SELECT 1 FROM species_listing WHERE species_listing.species_id = animal.species_id) AS listed,
                animal.papers <> '' OR EXISTS (
                    SELECT 1 FROM ledger_line JOIN cohort_with_papers ON cohort_with_papers.cohort_id = ledger_line.cohort_id
                    WHERE ledger_line.id = animal.origin_line_id) AS has_papers
         FROM animal WHERE animal.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

#[derive(sqlx::FromRow)]
struct LotRow {
    source_code: SourceCode,
    pre_convention: bool,
    span_mm: Option<i64>,
    last_moult: Option<NaiveDate>,
    last_fed: Option<NaiveDate>,
    prey_left_in: bool,
    listed: bool,
    has_papers: bool,
    free: u32,
}

async fn lot_facts(
    db: &mut SqliteConnection,
    line: &Line,
    lot: Lot,
    now: DateTime<Utc>,
    zone: Tz,
    keeper: Keeper,
) -> Result<SaleFacts, AppError> {
    let row = lot_row(&mut *db, lot, local_date(zone, now), keeper).await?;
    let species = species::store::require(&mut *db, line.species_id).await?;
    let holds = in_days(handling::store::holds_of_cohort(&mut *db, lot.cohort, now).await?, zone);
    let (life_stage, span_mm) = (lot_life_stage(&species, row.span_mm), row.span_mm.and_then(|span| u32::try_from(span).ok()));
    let fast = species::store::rules_now(&mut *db, line.species_id).await?.fast;
    let rest = fast_in(&fast, span_or_largest(span_mm, life_stage)).max_days;
    let rested_from = days_before(local_date(zone, now), rest);
    let recent = unready(db, lot, rested_from, row.last_fed).await?;
    Ok(SaleFacts {
        not_available: None,
        stage: Some(lot.stage),
        life_stage,
        span_mm,
        last_moult: row.last_moult,
        ate_since_moult: row.last_moult.is_none_or(|moulted| row.last_fed.is_some_and(|fed| fed > moulted)),
        moult_state: MoultState::Normal,
        holds,
        guarding_sac: false,
        held_back: false,
        listed: row.listed,
        source: Some(Source { code: row.source_code, pre_convention: row.pre_convention }),
        has_papers: row.has_papers,
        last_fed: row.last_fed,
        prey_left_in: row.prey_left_in,
        lot: Some(LotFacts { asked: lot.quantity, free: row.free, recent }),
        fast,
    })
}

/// The last moult of a lot is the latest that brought any to its stage and was not taken back.
async fn lot_row(db: &mut SqliteConnection, lot: Lot, day: NaiveDate, keeper: Keeper) -> Result<LotRow, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort.source_code, cohort.pre_convention, cohort.span_mm,
                (SELECT MAX(line.day) FROM ledger_line AS line WHERE line.cohort_id = cohort.id AND line.kind = 'moulted'
                 AND line.to_bucket = ?2
                 AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = line.id)) AS last_moult,
                (SELECT MAX(day) FROM cohort_meal_standing AS meal WHERE meal.cohort_id = cohort.id AND meal.took > 0) AS last_fed,
                EXISTS (SELECT 1 FROM cohort_meal_standing AS meal WHERE meal.cohort_id = cohort.id AND meal.left_in > 0) AS prey_left_in,
                EXISTS (SELECT 1 FROM species_listing WHERE species_listing.species_id = cohort.species_id) AS listed,
                EXISTS (SELECT 1 FROM cohort_with_papers WHERE cohort_with_papers.cohort_id = cohort.id) AS has_papers,
                MIN(COALESCE((SELECT quantity FROM ledger_balance WHERE cohort_id = cohort.id AND bucket = ?2), 0),
                    MAX((SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
                         WHERE ledger_balance.cohort_id = cohort.id AND bucket.kind = 'stage')
                        - (SELECT COALESCE(SUM(quantity), 0) FROM holdback WHERE holdback.cohort_id = cohort.id)
                        - (SELECT COALESCE(SUM(quantity), 0) FROM reservation
                           WHERE reservation.cohort_id = cohort.id AND ended_as IS NULL AND until >= ?3
                             AND NOT (COALESCE(buyer_id = ?4, 0) OR COALESCE(order_id = ?5, 0) OR COALESCE(outing_id = ?6, 0))), 0)) AS free
         FROM cohort WHERE cohort.id = ?1",
    )
    .bind(lot.cohort)
    .bind(lot.stage)
    .bind(day)
    .bind(keeper.buyer)
    .bind(keeper.order)
    .bind(keeper.outing)
    .fetch_one(db)
    .await?)
}

/// How many came to the lot's stage by a moult after a day, or have had no meal since theirs.
async fn unready(db: &mut SqliteConnection, lot: Lot, day: NaiveDate, last_fed: Option<NaiveDate>) -> Result<u32, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT COALESCE(SUM(quantity), 0) FROM ledger_line AS line
         WHERE line.cohort_id = ? AND line.kind = 'moulted' AND line.to_bucket = ? AND (line.day > ? OR line.day >= COALESCE(?, ''))
           AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = line.id)",
    )
    .bind(lot.cohort)
    .bind(lot.stage)
    .bind(day)
    .bind(last_fed)
    .fetch_one(db)
    .await?)
}

fn days_before(day: NaiveDate, days: u32) -> NaiveDate {
    day.checked_sub_days(Days::new(days.into())).unwrap_or(day)
}

/// Holds that stand now, in days. One that ends within a day still holds that day: nothing is packed an hour too soon.
fn in_days(holds: Vec<Hold>, zone: Tz) -> Vec<HoldFacts> {
    let facts = |hold: Hold| HoldFacts {
        kind: hold.kind,
        from: local_date(zone, hold.from_at),
        blocks: hold.blocks,
        until: hold.until_at.map(|until| days_after(local_date(zone, until - TimeDelta::seconds(1)), 1)),
        reason: hold.reason,
    };
    holds.into_iter().map(facts).collect()
}
