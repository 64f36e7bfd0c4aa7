//! The starter library: 24 species as data, which a new house begins with and then edits as its own.

use serde::{Deserialize, Serialize};

use super::model::rules::SpeciesRules;
use super::model::{Listing, StageCare};
use super::names::NameKind;
use crate::reckoning::breeding::{SacGroup, StageDays};
use crate::reckoning::words::{Habit, LifeStage, Moisture, Pace, Setae, Venom, World};

const LIBRARY: &str = include_str!("starter.json");

/// One species of the starter library.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StarterSpecies {
    /// The accepted scientific name, without its authority.
    pub accepted_name: String,
    /// Who named it and when, in brackets if it has since changed genus.
    pub authority: String,
    /// The subfamily, where one is in common use.
    pub subfamily: Option<String>,
    /// Old World or New World.
    pub world: World,
    /// Where it lives in nature.
    pub range: String,
    /// How it lives.
    pub habit: Habit,
    /// How damp its substrate is kept.
    pub moisture: Moisture,
    /// Its former, trade and common names.
    pub names: Vec<StarterName>,
    /// Least leg span of an adult, in millimetres.
    pub adult_span_min_mm: u32,
    /// Greatest leg span of an adult, in millimetres.
    pub adult_span_max_mm: u32,
    /// Where its urticating setae are and how they travel.
    pub setae: Setae,
    /// The types of its setae, and what that rests on.
    pub setae_note: String,
    /// How much concern its venom is: a project classification, not a clinical grade.
    pub venom: Venom,
    /// The publication or practice that the venom concern rests on.
    pub venom_basis: String,
    /// Whether it readily threatens or strikes.
    pub defensive: bool,
    /// Whether it is faster than a hand.
    pub very_fast: bool,
    /// Its temper, for the person at the lid.
    pub temper: String,
    /// Whether its broods may stay together.
    pub communal: bool,
    /// How fast it grows.
    pub pace: Pace,
    /// Fewest young that a sac usually holds.
    pub clutch_min: u32,
    /// Most young that a sac usually holds.
    pub clutch_max: u32,
    /// First day after laying on which the sac is usually pulled.
    pub pull_from_day: u32,
    /// Last day after laying on which the sac is usually pulled.
    pub pull_to_day: u32,
    /// When the young are expected to reach each early stage.
    pub stage_days: StageDays,
    /// The group whose sacs run as its do; that of its genus without it.
    #[serde(default)]
    pub sac_group: Option<SacGroup>,
    /// What the clutch, pull and stage figures rest on.
    pub breeding_basis: String,
    /// The trade and protection listings that were found.
    pub listings: Vec<Listing>,
    /// What a seller should know of the law. It decides nothing.
    pub law_note: String,
    /// Its care in each part of life.
    pub care: StarterCare,
}

/// A former, trade or common name of a species.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StarterName {
    /// The name as written.
    pub name: String,
    /// What kind of name it is; never `Accepted`.
    pub kind: NameKind,
    /// Where the name comes from.
    pub note: String,
    /// What else the name may mean: such a name is never taken as this species without asking.
    pub ambiguous_with: Option<String>,
}

/// The care of a species, one profile for each part of life.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StarterCare {
    /// From second instar to about 2.5 cm leg span.
    pub spiderling: StageCare,
    /// From there to about half the adult span.
    pub juvenile: StageCare,
    /// Adults; feeding and moult ranges are those of females.
    pub adult: StageCare,
    /// The rules of the whole species.
    #[serde(default)]
    pub whole: SpeciesRules,
}

impl StarterCare {
    /// The profile for a part of life.
    pub fn of(&self, stage: LifeStage) -> &StageCare {
        match stage {
            LifeStage::Spiderling => &self.spiderling,
            LifeStage::Juvenile => &self.juvenile,
            LifeStage::Adult => &self.adult,
        }
    }

    /// Puts another profile for a part of life.
    pub fn set(&mut self, stage: LifeStage, care: StageCare) {
        match stage {
            LifeStage::Spiderling => self.spiderling = care,
            LifeStage::Juvenile => self.juvenile = care,
            LifeStage::Adult => self.adult = care,
        }
    }
}

/// The 24 species that a new house starts with.
///
/// # Errors
/// When the embedded data is not of the shape above, which a test rules out.
pub fn library() -> Result<Vec<StarterSpecies>, serde_json::Error> {
    serde_json::from_str(LIBRARY)
}
