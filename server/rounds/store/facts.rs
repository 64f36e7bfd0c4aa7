//! What the planner is told, gathered from the book in a few statements: for the whole house, or for one subject.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::house::clock::local_date;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, RoomId, SacId, SpeciesId};
use crate::reckoning::calendar::days_after;
use crate::reckoning::hazard::{HazardFacts, IndividualCaution};
use crate::reckoning::planner::{AnimalFacts, HoldFacts, Subject, SubjectKey, SubjectKind};
use crate::reckoning::words::{Exposure, HoldKind, LifeStage, Setae, Venom};
use crate::species;
use crate::species::store::CareBook;

mod animals;
mod apart;
mod cohorts;
mod rooms;
mod sacs;

/// How much of the house is planned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scope {
    House,
    Cohorts,
    Animal(AnimalId),
    Cohort(CohortId),
    Sac(SacId),
    Room(RoomId),
}

impl Scope {
    /// The first and last id of a kind that are in it: every one for the house, none of the kinds it is not about.
    pub(super) fn ids(self, kind: SubjectKind) -> (i64, i64) {
        match (self, kind) {
            (Self::House, _) | (Self::Cohorts, SubjectKind::Cohort) => (i64::MIN, i64::MAX),
            (Self::Animal(AnimalId(id)), SubjectKind::Animal)
            | (Self::Cohort(CohortId(id)), SubjectKind::Cohort)
            | (Self::Sac(SacId(id)), SubjectKind::Sac)
            | (Self::Room(RoomId(id)), SubjectKind::Room) => (id, id),
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
    if scope.touches(SubjectKind::Animal) || scope.touches(SubjectKind::Cohort) {
        apart::add(db, scope, moment, &mut gathered).await?;
    }
    if scope.touches(SubjectKind::Sac) {
        sacs::gather(db, scope, &mut gathered).await?;
    }
    if scope.touches(SubjectKind::Room) {
        rooms::gather(db, scope, moment, &mut gathered).await?;
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

/// The newest care of the species of some rows.
async fn care_book(db: &mut SqliteConnection, species: impl Iterator<Item = SpeciesId> + Clone) -> Result<CareBook, AppError> {
    match species.clone().min().zip(species.max()) {
        Some((first, last)) => species::store::care_book(db, first, last).await,
        None => Ok(CareBook::default()),
    }
}

fn read_json<'a, T: Deserialize<'a>>(text: &'a str) -> Result<T, AppError> {
    serde_json::from_str(text).map_err(|error| AppError::Internal(error.into()))
}
