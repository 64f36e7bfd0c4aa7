//! The list of animals: what it is filtered by, and what a line of it shows.

use chrono::NaiveDate;

use super::AnimalStatus;
use crate::house::ids::{AnimalId, CohortId, DutyId, RackId, SacId, SpeciesId};
use crate::reckoning::hazard::{Band, HazardFacts, IndividualCaution, assess};
use crate::reckoning::words::{DutyKind, Setae, Sex, SexBasis, SpanMethod, Venom};
use crate::species;

/// What the list is narrowed to; `None` and an empty text narrow nothing.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    /// Part of a tag, a locality or a note.
    pub text: String,
    /// A species.
    pub species: Option<SpeciesId>,
    /// A rack.
    pub rack: Option<RackId>,
    /// A status.
    pub status: Option<AnimalStatus>,
    /// A sex.
    pub sex: Option<Sex>,
}

/// One animal of the list.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Line {
    /// Its id.
    pub id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// Its species' accepted name.
    pub species_name: String,
    /// Its sex.
    pub sex: Sex,
    /// What that rests on.
    pub sex_basis: SexBasis,
    /// Whether it is in the house.
    pub status: AnimalStatus,
    /// The day it left.
    pub status_on: Option<NaiveDate>,
    /// Where it stands, in words.
    pub place: Option<String>,
    /// Its position on the shelf.
    pub position: Option<i64>,
    /// Its last leg span, mm.
    pub span_mm: Option<i64>,
    /// How that was taken.
    pub span_method: Option<SpanMethod>,
    /// Its instar.
    pub instar: Option<i64>,
    /// The day of its last moult.
    pub last_moult_on: Option<NaiveDate>,
    /// The day of its last offer of prey.
    pub last_meal_on: Option<NaiveDate>,
    /// Whether it is a mature male.
    pub mature: bool,
    /// The highest band that its individual cautions ask for.
    pub caution_level: Option<i64>,
    /// Venom concern of its species.
    pub venom: Venom,
    /// Urticating setae of its species.
    pub setae: Setae,
    /// Whether its species is defensive.
    pub defensive: bool,
    /// Whether its species is very fast.
    pub very_fast: bool,
    /// Least adult leg span of its species, mm.
    pub adult_span_min_mm: u32,
    /// Greatest adult leg span of its species, mm.
    pub adult_span_max_mm: u32,
}

impl Line {
    /// Its hazard band, 0 to 3.
    #[must_use]
    pub fn band(&self) -> i64 {
        let cautions = self.caution_level.map(|level| IndividualCaution { level: Band::at(level), text: String::new() });
        let facts = HazardFacts {
            venom: self.venom,
            setae: self.setae,
            defensive: self.defensive,
            very_fast: self.very_fast,
            adult_span_max_mm: self.adult_span_max_mm,
            life_stage: species::model::life_stage(self.span_mm, self.mature, self.adult_span_min_mm),
            cautions: cautions.into_iter().collect(),
        };
        assess(&facts).band.level().into()
    }
}

/// How many of each sex.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct BySex {
    /// Males.
    pub males: i64,
    /// Females.
    pub females: i64,
    /// Unsexed.
    pub unsexed: i64,
}

impl BySex {
    /// All of them.
    #[must_use]
    pub fn total(&self) -> i64 {
        self.males + self.females + self.unsexed
    }

    /// As the trade writes it: males.females.unsexed, such as `1.2.5`.
    #[must_use]
    pub fn notation(&self) -> String {
        format!("{}.{}.{}", self.males, self.females, self.unsexed)
    }
}

/// A cohort that an animal came from, or that its cohort was split from, and its sac.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Ancestry {
    /// The cohort.
    pub cohort_id: CohortId,
    /// Its code.
    pub code: String,
    /// Its sac.
    pub sac_id: Option<SacId>,
    /// The day the sac was laid.
    pub laid_on: Option<NaiveDate>,
    /// The dam.
    pub dam_id: Option<AnimalId>,
    /// Her tag.
    pub dam_tag: Option<String>,
    /// What is known of a dam that is not one of the house's.
    pub dam_note: Option<String>,
    /// The sire.
    pub sire_id: Option<AnimalId>,
    /// His tag.
    pub sire_tag: Option<String>,
    /// What is known of the sire besides.
    pub sire_note: Option<String>,
}

/// A duty that is open.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct OpenDuty {
    /// Its id.
    pub id: DutyId,
    /// What is to be done.
    pub kind: DutyKind,
    /// The day it fell due.
    pub due_on: NaiveDate,
    /// The last day on which it is not late.
    pub late_after: NaiveDate,
    /// Why it is due.
    pub reason: String,
    /// Why it must wait.
    pub held: Option<String>,
    /// Whose it is.
    pub assigned: Option<String>,
}
