//! Gathers what a care sheet says of the animal or lot that leaves.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::animals;
use crate::animals::model::{Animal, Origin};
use crate::cohorts;
use crate::cohorts::model::{Cohort, CohortOrigin};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, HandoverId, SpeciesId};
use crate::papers::model::{OriginFacts, Subject, SubjectFacts, lot_life_stage};
use crate::reckoning::language::Language;
use crate::reckoning::planner::FeedState;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{LifeStage, Sex, SexBasis, SpanMethod};
use crate::rounds;
use crate::species;
use crate::species::model::{CareStage, Species};
use crate::species::names::NameKind;

/// The species, and what the book knows of the subject.
pub(super) async fn subject(
    db: &mut SqliteConnection,
    subject: Subject,
    now: DateTime<Utc>,
    zone: Tz,
) -> Result<(Species, SubjectFacts), AppError> {
    match subject {
        Subject::Animal(id) => {
            let animal = animals::store::require(&mut *db, id).await?;
            let species = species::store::require(&mut *db, animal.species_id).await?;
            let feed = rounds::store::next_feed_of_animal(&mut *db, id, now, zone).await?;
            let facts = animal_facts(db, animal, feed).await?;
            Ok((species, facts))
        }
        Subject::Lot { cohort, stage, quantity } => {
            let cohort = cohorts::store::require(&mut *db, cohort).await?;
            let species = species::store::require(&mut *db, cohort.species_id).await?;
            let feed = rounds::store::next_feed_of_cohort(&mut *db, cohort.id, now, zone).await?;
            let life_stage = lot_life_stage(&species, cohort.span_mm);
            let facts = lot_facts(db, cohort, (stage, quantity, life_stage), feed).await?;
            Ok((species, facts))
        }
    }
}

async fn animal_facts(db: &mut SqliteConnection, animal: Animal, feed: Option<FeedState>) -> Result<SubjectFacts, AppError> {
    let (risk, hazard) = animals::store::hazard(&mut *db, animal.id).await?;
    let meal = last_meal(&mut *db, animal.id).await?;
    let cohort = match animal.origin {
        Origin::Cohort => Some(cohort_of(&mut *db, animal.id).await?),
        Origin::Bought => None,
    };
    let origin = match cohort {
        Some(id) => cohort_origin(&mut *db, id).await?,
        None => OriginFacts::Bought { since: animal.started_on },
    };
    Ok(SubjectFacts {
        count: None,
        life_stage: animal.life_stage(),
        stage: animal.instar().and_then(|number| u8::try_from(number).ok()).map(Stage::Instar),
        sex: animal.sex,
        sex_basis: animal.sex_basis,
        origin,
        source: animal.source_code,
        pre_convention: animal.pre_convention,
        span_mm: animal.span_mm,
        span_method: animal.span_method,
        span_on: animal.span_on,
        last_moult: animal.last_moult_on,
        last_meal: meal.as_ref().map(|(day, _)| *day),
        last_prey: meal.map_or_else(String::new, |(_, prey)| prey),
        next_feed: feed,
        risk,
        hazard,
        label: animal.tag,
        locality: animal.locality,
    })
}

async fn lot_facts(
    db: &mut SqliteConnection,
    cohort: Cohort,
    (stage, quantity, life_stage): (Stage, u32, LifeStage),
    feed: Option<FeedState>,
) -> Result<SubjectFacts, AppError> {
    let (risk, hazard) = cohorts::store::hazard(&mut *db, cohort.id).await?;
    let row = lot_row(&mut *db, cohort.id, stage).await?;
    Ok(SubjectFacts {
        count: Some(quantity),
        life_stage,
        stage: Some(stage),
        sex: Sex::Unknown,
        sex_basis: SexBasis::None,
        origin: cohort_origin(&mut *db, cohort.id).await?,
        source: cohort.source_code,
        pre_convention: cohort.pre_convention,
        span_mm: cohort.span_mm,
        span_method: cohort.span_mm.map(|_| SpanMethod::Estimated),
        span_on: None,
        last_moult: row.last_moult,
        last_meal: row.last_meal,
        last_prey: row.last_prey.unwrap_or_default(),
        next_feed: feed,
        risk,
        hazard,
        label: cohort.code,
        locality: cohort.locality,
    })
}

async fn last_meal(db: &mut SqliteConnection, id: AnimalId) -> Result<Option<(NaiveDate, String)>, AppError> {
    Ok(sqlx::query_as("SELECT day, prey FROM meal_standing WHERE animal_id = ? AND outcome = 'took' ORDER BY day DESC, id DESC LIMIT 1")
        .bind(id)
        .fetch_optional(db)
        .await?)
}

async fn cohort_of(db: &mut SqliteConnection, id: AnimalId) -> Result<CohortId, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT ledger_line.cohort_id FROM animal JOIN ledger_line ON ledger_line.id = animal.origin_line_id WHERE animal.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

#[derive(sqlx::FromRow)]
struct LotRow {
    last_moult: Option<NaiveDate>,
    last_meal: Option<NaiveDate>,
    last_prey: Option<String>,
}

async fn lot_row(db: &mut SqliteConnection, id: CohortId, stage: Stage) -> Result<LotRow, AppError> {
    Ok(sqlx::query_as(
        "SELECT (SELECT MAX(line.day) FROM ledger_line AS line WHERE line.cohort_id = cohort.id AND line.kind = 'moulted'
                 AND line.to_bucket = ?2
                 AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = line.id)) AS last_moult,
                meal.day AS last_meal, meal.prey AS last_prey
         FROM cohort LEFT JOIN cohort_meal_standing AS meal ON meal.id = (
             SELECT id FROM cohort_meal_standing AS taken WHERE taken.cohort_id = cohort.id AND taken.took > 0
             ORDER BY day DESC, id DESC LIMIT 1)
         WHERE cohort.id = ?1",
    )
    .bind(id)
    .bind(stage)
    .fetch_one(db)
    .await?)
}

async fn cohort_origin(db: &mut SqliteConnection, id: CohortId) -> Result<OriginFacts, AppError> {
    let cohort = cohorts::store::require(&mut *db, id).await?;
    let (since, code) = (cohort.started_on, cohort.code);
    Ok(match cohort.origin {
        CohortOrigin::Sac => {
            let laid_on = sqlx::query_scalar("SELECT laid_on FROM sac WHERE id = ?").bind(cohort.sac_id).fetch_one(db).await?;
            OriginFacts::Hatched { laid_on, cohort: code }
        }
        CohortOrigin::Bought => OriginFacts::BoughtBatch { since, cohort: code },
        CohortOrigin::Split => OriginFacts::Split { since, cohort: code },
    })
}

/// The language that the buyer of a handover reads; nothing when none was said.
pub(super) async fn reader(db: &mut SqliteConnection, id: HandoverId) -> Result<Option<Language>, AppError> {
    let language: String =
        sqlx::query_scalar("SELECT buyer.language FROM handover JOIN buyer ON buyer.id = handover.buyer_id WHERE handover.id = ?")
            .bind(id)
            .fetch_one(db)
            .await?;
    Ok(language.parse().ok())
}

/// The species' first common name that means nothing else.
pub(super) async fn common_name(db: &mut SqliteConnection, id: SpeciesId) -> Result<Option<String>, AppError> {
    let names = species::store::names(db, id).await?;
    Ok(names.into_iter().find(|name| name.kind == NameKind::Common && name.ambiguous_with.is_none()).map(|name| name.name))
}

/// The care of its present life stage and of those to come, from the newest revision of the profile.
pub(super) async fn care_from(db: &mut SqliteConnection, id: SpeciesId, stage: LifeStage) -> Result<Vec<CareStage>, AppError> {
    let now = species::store::care(&mut *db, id, stage).await?;
    let profile = now.profile_id;
    let mut care = vec![now];
    for later in LifeStage::ALL.iter().filter(|later| **later > stage) {
        care.push(species::store::care_in(&mut *db, profile, *later).await?);
    }
    Ok(care)
}
