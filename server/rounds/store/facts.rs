//! What the planner is told, gathered from the book in a few statements: for the whole house, or for one subject.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::house::clock::local_date;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, SacId};
use crate::reckoning::calendar::days_after;
use crate::reckoning::hazard::{HazardFacts, IndividualCaution};
use crate::reckoning::planner::{AnimalFacts, Care, HoldFacts, Subject, SubjectKey, SubjectKind};
use crate::reckoning::words::{Exposure, HoldKind, LifeStage, Setae, Venom};
use crate::species;

mod animals;
mod cohorts;
mod sacs;

/// How much of the house is planned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scope {
    House,
    Cohorts,
    Animal(AnimalId),
    Cohort(CohortId),
    Sac(SacId),
}

impl Scope {
    /// The first and last id of a kind that are in it: every one for the house, none of the kinds it is not about.
    pub(super) fn ids(self, kind: SubjectKind) -> (i64, i64) {
        match (self, kind) {
            (Self::House, _) | (Self::Cohorts, SubjectKind::Cohort) => (i64::MIN, i64::MAX),
            (Self::Animal(AnimalId(id)), SubjectKind::Animal)
            | (Self::Cohort(CohortId(id)), SubjectKind::Cohort)
            | (Self::Sac(SacId(id)), SubjectKind::Sac) => (id, id),
            _ => (1, 0),
        }
    }

    fn touches(self, kind: SubjectKind) -> bool {
        let (first, last) = self.ids(kind);
        first <= last
    }
}

/// The instant, day and zone for which facts are gathered.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    pub(super) at: DateTime<Utc>,
    pub(super) today: NaiveDate,
    pub(super) zone: Tz,
}

impl Moment {
    /// An instant in a zone, with its local day.
    pub(super) fn new(at: DateTime<Utc>, zone: Tz) -> Self {
        Self { at, today: local_date(zone, at), zone }
    }
}

/// The facts, and the holds that stand at the moment as instants.
#[derive(Debug, Default)]
pub(super) struct Gathered {
    pub(super) subjects: Vec<Subject>,
    pub(super) holds: HashMap<SubjectKey, Vec<StandingHold>>,
}

/// A hold that stands now.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct StandingHold {
    pub(super) kind: HoldKind,
    pub(super) blocks: Exposure,
    pub(super) from_at: DateTime<Utc>,
    pub(super) until_at: Option<DateTime<Utc>>,
    pub(super) reason: String,
}

impl StandingHold {
    /// In the planner's days. The day on which it ends counts as held: whoever plans again after the end finds it gone.
    fn in_days(&self, zone: Tz) -> HoldFacts {
        HoldFacts {
            kind: self.kind,
            from: local_date(zone, self.from_at),
            blocks: self.blocks,
            until: self.until_at.map(|until| days_after(local_date(zone, until), 1)),
            reason: self.reason.clone(),
        }
    }
}

/// Everything that the planner needs of the subjects in a scope.
///
/// # Errors
/// The database can't be read.
pub(super) async fn gather(db: &mut SqliteConnection, scope: Scope, moment: Moment) -> Result<Gathered, AppError> {
    let mut gathered = Gathered::default();
    if scope.touches(SubjectKind::Animal) {
        animals::gather(db, scope, moment, &mut gathered).await?;
    }
    if scope.touches(SubjectKind::Cohort) {
        cohorts::gather(db, scope, moment, &mut gathered).await?;
    }
    if scope.touches(SubjectKind::Sac) {
        sacs::gather(db, scope, &mut gathered).await?;
    }
    Ok(gathered)
}

/// What the planner knows of one animal; none when it has left.
///
/// # Errors
/// The database can't be read.
pub async fn animal_facts(db: &mut SqliteConnection, id: AnimalId, at: DateTime<Utc>, zone: Tz) -> Result<Option<AnimalFacts>, AppError> {
    let moment = Moment { at, today: local_date(zone, at), zone };
    let gathered = gather(db, Scope::Animal(id), moment).await?;
    Ok(gathered.subjects.into_iter().find_map(|subject| if let Subject::Animal(facts) = subject { Some(facts) } else { None }))
}

/// What bears on safety, as every kind of subject has it from its species.
#[derive(Debug, sqlx::FromRow)]
struct SpeciesRisk {
    venom: Venom,
    setae: Setae,
    defensive: bool,
    very_fast: bool,
    adult_span_min_mm: u32,
    adult_span_max_mm: u32,
}

impl SpeciesRisk {
    fn life_stage(&self, span_mm: Option<u32>, mature: bool) -> LifeStage {
        species::model::life_stage(span_mm.map(i64::from), mature, self.adult_span_min_mm)
    }

    fn facts(&self, life_stage: LifeStage, cautions: Vec<IndividualCaution>) -> HazardFacts {
        HazardFacts {
            venom: self.venom,
            setae: self.setae,
            defensive: self.defensive,
            very_fast: self.very_fast,
            adult_span_max_mm: self.adult_span_max_mm,
            life_stage,
            cautions,
        }
    }
}

#[derive(sqlx::FromRow)]
struct CareRow {
    species_id: i64,
    stage: LifeStage,
    feed_min_days: u32,
    feed_max_days: u32,
    uneaten_hours: u32,
    moult_min_days: u32,
    moult_max_days: u32,
    moult_check_days: u32,
    water_days: u32,
    clean_days: u32,
    count_days: u32,
}

/// The newest care of every stage, by species.
type CareBook = HashMap<(i64, LifeStage), Care>;

async fn care_book(db: &mut SqliteConnection, species: &BTreeMap<i64, ()>) -> Result<CareBook, AppError> {
    let (Some((first, ())), Some((last, ()))) = (species.first_key_value(), species.last_key_value()) else {
        return Ok(CareBook::new());
    };
    let rows: Vec<CareRow> = sqlx::query_as(
        "SELECT care_now.species_id, stage, feed_min_days, feed_max_days, uneaten_hours, moult_min_days, moult_max_days,
                moult_check_days, water_days, clean_days, count_days
         FROM care_now JOIN care_stage ON care_stage.profile_id = care_now.profile_id
         WHERE care_now.species_id BETWEEN ? AND ?",
    )
    .bind(first)
    .bind(last)
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|row| ((row.species_id, row.stage), row.care())).collect())
}

impl CareRow {
    fn care(self) -> Care {
        Care {
            feed_min_days: self.feed_min_days,
            feed_max_days: self.feed_max_days,
            uneaten_hours: self.uneaten_hours,
            moult_min_days: self.moult_min_days,
            moult_max_days: self.moult_max_days,
            moult_check_days: self.moult_check_days,
            water_days: self.water_days,
            clean_days: self.clean_days,
            count_days: self.count_days,
        }
    }
}

fn care_of(book: &CareBook, species: i64, stage: LifeStage) -> Result<Care, AppError> {
    book.get(&(species, stage)).cloned().ok_or_else(|| AppError::Internal(anyhow::anyhow!("species {species} has no care for a {stage}")))
}

fn read_json<'a, T: Deserialize<'a>>(text: &'a str) -> Result<T, AppError> {
    serde_json::from_str(text).map_err(|error| AppError::Internal(error.into()))
}
