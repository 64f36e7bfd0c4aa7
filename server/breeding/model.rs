//! Pairings and egg sacs.

pub mod forecast;
pub mod incubation;
pub mod kindred;
pub mod lineage;
pub mod lines;
pub mod pairing;

use chrono::NaiveDate;

use crate::cohorts::model::Housing;
use crate::house::ids::{AnimalId, CohortId, SacId, ShelfId, SpeciesId};
use crate::reckoning::breeding::counts::Tally;
use crate::reckoning::provenance::Source;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{LossCause, Sex};
use crate::text_columns;

coded_enum! {
    /// Where a sac is kept.
    Incubation, "way of incubating" {
        WithDam = "with-dam", "left with the dam";
        Pulled = "pulled", "pulled";
    }
}

coded_enum! {
    /// What has become of a sac.
    SacState, "state of a sac" {
        Incubating = "incubating", "incubating";
        Opened = "opened", "opened";
        Failed = "failed", "failed";
    }
}

text_columns! { Incubation, SacState }

pub use pairing::{Introduction, NewIntroduction, NewPairing, PairingRow};

/// An egg sac.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Sac {
    /// Its id.
    pub id: SacId,
    /// Its species.
    pub species_id: SpeciesId,
    /// The accepted name of its species.
    pub species: String,
    /// The dam, if she is one of ours.
    pub dam_id: Option<AnimalId>,
    /// Her tag.
    pub dam_tag: Option<String>,
    /// What is known of a dam that is not ours.
    pub dam_note: String,
    /// Whether she was mated in the wild.
    pub dam_wild_mated: bool,
    /// The sire, if he is known.
    pub sire_id: Option<AnimalId>,
    /// His tag.
    pub sire_tag: Option<String>,
    /// What else is known of the sire.
    pub sire_note: String,
    /// The day it was laid.
    pub laid_on: NaiveDate,
    /// The day it was pulled.
    pub pulled_on: Option<NaiveDate>,
    /// Where it is kept.
    pub incubation: Incubation,
    /// How it is incubated.
    pub incubation_note: String,
    /// The shelf.
    pub shelf_id: Option<ShelfId>,
    /// The position on the shelf.
    pub position: Option<i64>,
    /// Room, rack and shelf in words.
    pub place: Option<String>,
    /// What has become of it.
    pub state: SacState,
    /// The day it was opened or failed.
    pub ended_on: Option<NaiveDate>,
    /// Why it failed, or what else was noted at the end.
    pub end_note: String,
    /// The first day after laying of the usual pull window.
    pub pull_from_day: u32,
    /// Its last day.
    pub pull_to_day: u32,
    /// The base above which its warmth is summed, tenths of °C.
    pub base_decicelsius: i64,
    /// The cohort that came from it.
    pub cohort_id: Option<CohortId>,
    /// That cohort's code.
    pub cohort_code: Option<String>,
}

impl Sac {
    /// The dam in words: her tag, or what is known of her.
    #[must_use]
    pub fn dam(&self) -> String {
        self.dam_tag.clone().unwrap_or_else(|| self.dam_note.clone())
    }
}

/// A checked sac.
#[derive(Debug, Clone)]
pub struct NewSac {
    /// Its species; the dam's when she is one of ours.
    pub species_id: SpeciesId,
    /// The dam, if she is one of ours.
    pub dam: Option<AnimalId>,
    /// What is known of a dam that is not ours.
    pub dam_note: String,
    /// Whether she was mated in the wild.
    pub dam_wild_mated: bool,
    /// The sire; none: not known.
    pub sire: Option<AnimalId>,
    /// What else is known of the sire.
    pub sire_note: String,
    /// The day it was laid.
    pub laid_on: NaiveDate,
    /// The day it was pulled, if it was.
    pub pulled_on: Option<NaiveDate>,
    /// How it is incubated.
    pub incubation_note: String,
    /// The shelf.
    pub shelf: Option<ShelfId>,
    /// The position on the shelf.
    pub position: Option<i64>,
}

/// What was found bad at an opening.
#[derive(Debug, Clone, Copy)]
pub struct Bad {
    /// The stage they had reached.
    pub stage: Stage,
    /// How many.
    pub quantity: u32,
    /// Why.
    pub cause: LossCause,
}

/// The opening of a sac: its first count.
#[derive(Debug, Clone)]
pub struct Opening {
    /// The local day.
    pub day: NaiveDate,
    /// How many were alive at each stage, by the count that is taken.
    pub counts: Vec<(Stage, u32)>,
    /// How many were alive in all, by each count that was made.
    pub tally: Tally,
    /// How many were bad.
    pub bad: Vec<Bad>,
    /// The cohort's code; one is made when none is given.
    pub code: Option<String>,
    /// The brood's source code.
    pub source: Source,
    /// The locality or line; may be empty.
    pub locality: String,
    /// How the spiderlings are kept.
    pub housing: Housing,
    /// The cohort's shelf.
    pub shelf: Option<ShelfId>,
    /// Its position on the shelf.
    pub position: Option<i64>,
    /// A note; may be empty.
    pub note: String,
}

/// An animal, or a cohort as one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kin {
    /// A cohort.
    Cohort(CohortId),
    /// A tagged animal.
    Animal(AnimalId),
}

coded_enum! {
    /// As what the nearest parent of a line of descent stands to its young.
    Way, "way of descent" {
        Dam = "dam", "through the dam";
        Sire = "sire", "through the sire";
        Both = "both", "through dam and sire";
    }
}

/// What descends from an animal or a cohort.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Descendant {
    /// Who.
    pub kin: Kin,
    /// How many generations on, by the shortest path; 0 for what was split or tagged out of the cohort that was asked for.
    pub generation: u32,
    /// Through which of its own parents the descent runs; none in generation 0.
    pub way: Option<Way>,
    /// False when every path runs through one of several possible sires.
    pub certain: bool,
}

/// A grown animal that may be a parent, as lists offer it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Parent {
    /// Its id.
    pub id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// The name of its species.
    pub species: String,
    /// What it is known to be.
    pub sex: Sex,
    /// Where its line comes from.
    pub locality: String,
    /// The day it came under care.
    pub started_on: NaiveDate,
    /// The day it left, if it has.
    pub left_on: Option<NaiveDate>,
}
