//! A species as the book has it, its listings, and its care profiles.

pub mod climate;
pub mod drawn;
pub mod rules;
pub mod text;

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};

use super::names::NameKind;
use crate::house::ids::{ProfileId, SpeciesId};
use crate::reckoning::breeding::{PullWindow, SacGroup, StageDays};
use crate::reckoning::hazard::{HazardFacts, IndividualCaution};
use crate::reckoning::moult::FastClass;
use crate::reckoning::planner::{Care, StageRules};
use crate::reckoning::words::{Habit, LifeStage, Moisture, Pace, Setae, Venom, World};
use crate::text_columns;

text_columns! { NameKind }

/// Below this leg span (mm) a spider is cared for as a spiderling (common practice, no source).
pub const JUVENILE_FROM_MM: i64 = 40;

/// A species.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Species {
    /// Its id.
    pub id: SpeciesId,
    /// The accepted scientific name, without its authority.
    pub accepted_name: String,
    /// Who named it and when.
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
    /// Days from laying to post-embryo, first of the usual range.
    pub post_embryo_from: u32,
    /// The last of that range.
    pub post_embryo_to: u32,
    /// Days from laying to first instar, first of the usual range.
    pub first_instar_from: u32,
    /// The last of that range.
    pub first_instar_to: u32,
    /// Days from laying to second instar, first of the usual range.
    pub second_instar_from: u32,
    /// The last of that range.
    pub second_instar_to: u32,
    /// The group whose sacs run as its do, where somebody has said.
    pub sac_group: Option<SacGroup>,
    /// What the clutch, pull and stage figures rest on.
    pub breeding_basis: String,
    /// What a seller should know of the law. It decides nothing.
    pub law_note: String,
}

/// The life stage that a leg span (mm) stands for: a spiderling below 40 mm, an adult when mature or at the species'
/// least adult span, else a juvenile (common practice, no source). Without a span, a juvenile unless mature.
#[must_use]
pub fn life_stage(span_mm: Option<i64>, mature: bool, adult_span_min_mm: u32) -> LifeStage {
    match span_mm {
        _ if mature => LifeStage::Adult,
        Some(span) if span >= i64::from(adult_span_min_mm) => LifeStage::Adult,
        Some(span) if span < JUVENILE_FROM_MM => LifeStage::Spiderling,
        Some(_) | None => LifeStage::Juvenile,
    }
}

impl Species {
    /// What bears on people's safety, for an animal or cohort of this species.
    #[must_use]
    pub fn hazard_facts(&self, life_stage: LifeStage, cautions: Vec<IndividualCaution>) -> HazardFacts {
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

    /// The life stage of one of this species, as [`life_stage`] has it.
    #[must_use]
    pub fn life_stage(&self, span_mm: Option<i64>, mature: bool) -> LifeStage {
        life_stage(span_mm, mature, self.adult_span_min_mm)
    }

    /// When its sacs are usually pulled.
    #[must_use]
    pub fn pull_window(&self) -> PullWindow {
        PullWindow { from_day: self.pull_from_day, to_day: self.pull_to_day }
    }

    /// When the young of a sac usually reach each early stage.
    #[must_use]
    pub fn stage_days(&self) -> StageDays {
        StageDays {
            post_embryo: (self.post_embryo_from, self.post_embryo_to),
            first_instar: (self.first_instar_from, self.first_instar_to),
            second_instar: (self.second_instar_from, self.second_instar_to),
        }
    }
}

/// A species, as lists offer it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct SpeciesLine {
    /// Its id.
    pub id: SpeciesId,
    /// Its accepted name.
    pub accepted_name: String,
    /// How much concern its venom is.
    pub venom: Venom,
}

/// A species, and how much of it stands in the house.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct SpeciesInHouse {
    /// The species.
    #[sqlx(flatten)]
    pub species: Species,
    /// Tagged animals that are alive.
    pub animals: i64,
    /// The living of its cohorts.
    pub spiderlings: i64,
}

/// A former, trade or common name of a species.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct OtherName {
    /// The name as written.
    pub name: String,
    /// What kind of name it is.
    pub kind: NameKind,
    /// Where the name comes from.
    pub note: String,
    /// What else the name may mean.
    pub ambiguous_with: Option<String>,
}

/// A trade or protection listing, as far as it was found. Not legal advice.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, sqlx::FromRow)]
#[serde(deny_unknown_fields)]
pub struct Listing {
    /// The law or convention.
    pub scheme: String,
    /// The entry in it: "Appendix II".
    pub entry: String,
    /// Where the entry was read.
    pub source: String,
    /// First day in force, where known.
    pub valid_from: Option<NaiveDate>,
    /// The day on which the entry was last looked up.
    pub last_checked: NaiveDate,
    /// Whether the entry and its first day were both seen in the source.
    pub verified: bool,
    /// What was not verified, and what to ask.
    pub note: String,
}

/// A revision of a care profile. It is never changed.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Profile {
    /// Its id.
    pub id: ProfileId,
    /// Its species.
    pub species_id: SpeciesId,
    /// Its number, from 1.
    pub revision: i64,
    /// Why it was made.
    pub why: String,
    /// Who made it; nobody for the starter library.
    pub made_by: Option<String>,
    /// When.
    pub created_at: DateTime<Utc>,
}

/// The care of one life stage in one revision of a profile.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct CareStage {
    /// The revision's id.
    pub profile_id: ProfileId,
    /// The revision's number.
    pub revision: i64,
    /// The life stage.
    pub stage: LifeStage,
    /// The ranges and the words.
    #[sqlx(flatten)]
    pub figures: StageCare,
}

impl CareStage {
    /// The numbers that duties are planned by, with the fast of the whole species.
    #[must_use]
    pub fn planner_care(&self, fast: Vec<FastClass>) -> Care {
        let figures = &self.figures;
        Care {
            feed_min_days: figures.feed_min_days,
            feed_max_days: figures.feed_max_days,
            uneaten_hours: figures.uneaten_hours,
            moult_min_days: figures.moult_min_days,
            moult_max_days: figures.moult_max_days,
            moult_check_days: figures.moult_check_days,
            water_days: figures.water_days,
            clean_days: figures.clean_days,
            count_days: figures.count_days,
            rules: Some(figures.rules),
            fast,
        }
    }
}

/// Husbandry ranges for one part of life. Every figure is a default that the house may change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, sqlx::FromRow)]
#[serde(deny_unknown_fields)]
pub struct StageCare {
    /// Fewest days between meals.
    pub feed_min_days: u32,
    /// Most days between meals.
    pub feed_max_days: u32,
    /// Fewest days between moults; adult months are counted as 30.4 days.
    pub moult_min_days: u32,
    /// Most days between moults.
    pub moult_max_days: u32,
    /// Coolest day temperature, in °C.
    pub day_min_c: i32,
    /// Warmest day temperature, in °C.
    pub day_max_c: i32,
    /// Lowest relative humidity, in percent.
    pub rh_min: u32,
    /// Highest relative humidity, in percent.
    pub rh_max: u32,
    /// What to offer and how large.
    pub prey: String,
    /// How to give water.
    pub water: String,
    /// How deep and how damp the substrate is.
    pub substrate: String,
    /// How much air the box needs.
    pub ventilation: String,
    /// Its hide and the room it needs.
    pub hide: String,
    /// Hours after which uneaten prey must be out.
    pub uneaten_hours: u32,
    /// Days between waterings.
    pub water_days: u32,
    /// Days between spot cleans.
    pub clean_days: u32,
    /// Days between moult checks.
    pub moult_check_days: u32,
    /// Days between counts of a cohort.
    pub count_days: u32,
    /// What the figures rest on.
    pub basis: String,
    /// The finer rules that duties are planned by.
    #[sqlx(flatten, try_from = "rules::RulesRow")]
    pub rules: StageRules,
}

/// How much of a species stands in the house.
#[derive(Debug, Clone, Copy, Default, sqlx::FromRow)]
pub struct Stock {
    /// Tagged animals that are alive.
    pub animals: i64,
    /// Cohorts with any alive.
    pub cohorts: i64,
    /// The living of those cohorts.
    pub spiderlings: i64,
    /// Sacs that are not opened yet.
    pub sacs: i64,
}
