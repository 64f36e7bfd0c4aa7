//! What the planner is told: the facts of each subject, the house's rules, and what it gives back.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};

use super::apart::SetApart;
use super::care::{Care, SacRules};
use crate::reckoning::breeding::PullWindow;
use crate::reckoning::condition::Scored;
use crate::reckoning::hazard::{Band, HazardFacts};
use crate::reckoning::rows;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{DutyKind, Exposure, HoldKind, LifeStage, MealOutcome, MoultState};

coded_enum! {
    /// What a duty is about.
    SubjectKind, "subject" {
        Animal = "animal", "animal";
        Cohort = "cohort", "cohort";
        Sac = "sac", "egg sac";
        Room = "room", "room";
    }
}

/// Which animal, cohort, sac or room a duty is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct SubjectKey {
    /// Animal, cohort, sac or room.
    pub kind: SubjectKind,
    /// Its number in the book.
    pub id: i64,
}

/// The last offer of prey.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LastMeal {
    /// The local day of the offer.
    pub day: NaiveDate,
    /// What became of it. Prey that was left in becomes `took` or `refused` when it is cleared; until the book says
    /// so it counts as not taken.
    pub outcome: MealOutcome,
}

/// A dated stop on opening an enclosure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HoldFacts {
    /// What it is for.
    pub kind: HoldKind,
    /// The first held day.
    pub from: NaiveDate,
    /// This exposure and every nearer one are held.
    pub blocks: Exposure,
    /// The first free day; none while the end is not known.
    pub until: Option<NaiveDate>,
    /// What happened, in the words of whoever set it.
    pub reason: String,
}

impl HoldFacts {
    /// Whether the hold stops this exposure on this day.
    pub fn stops(&self, exposure: Exposure, day: NaiveDate) -> bool {
        exposure >= self.blocks && self.from <= day && self.until.is_none_or(|free| day < free)
    }
}

/// A need for a new enclosure other than size.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RehouseNeed {
    /// The day that it was noted.
    pub since: NaiveDate,
    /// Why: mould, mites, no closed hide.
    pub reason: String,
    /// An emergency (mould, mites) that overrides guarding a sac.
    pub emergency: bool,
}

/// When a moult is to be expected, as was told at the last one: four come inside of five (`moult::learn`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExpectedMoult {
    /// The first day of the window.
    pub from: NaiveDate,
    /// The last.
    pub to: NaiveDate,
}

/// A tagged animal that is alive and in the house.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AnimalFacts {
    /// Its number in the book.
    pub id: i64,
    /// Its life stage.
    pub life_stage: LifeStage,
    /// Its last leg span (DLS), mm.
    pub span_mm: Option<u32>,
    /// The day that the leg span was taken.
    pub span_on: Option<NaiveDate>,
    /// What bears on people's safety.
    pub hazard: HazardFacts,
    /// The care profile of its life stage.
    pub care: Care,
    /// Inner floor length of its enclosure, mm.
    pub enclosure_length_mm: Option<u32>,
    /// The day that it came under this house's care as an animal.
    pub started_on: NaiveDate,
    /// The last offer of prey.
    pub last_meal: Option<LastMeal>,
    /// Offers refused since the last accepted one.
    pub refusals_in_row: u32,
    /// When live prey was left in that has not been cleared yet.
    pub left_in_at: Option<DateTime<Utc>>,
    /// The day of the last moult.
    pub last_moult: Option<NaiveDate>,
    /// When the next is to be expected; without it, the care profile's range after the last moult counts.
    #[serde(default)]
    pub expected_moult: Option<ExpectedMoult>,
    /// What the last moult check saw.
    pub moult_state: MoultState,
    /// The day that this state was first seen.
    pub moult_state_since: Option<NaiveDate>,
    /// The day of the last moult check.
    pub last_moult_check: Option<NaiveDate>,
    /// The day of the last watering.
    pub last_water: Option<NaiveDate>,
    /// The day of the last spot clean.
    pub last_clean: Option<NaiveDate>,
    /// The day that it went into its present enclosure, if it was rehoused here.
    pub rehoused_on: Option<NaiveDate>,
    /// A need for a new enclosure other than size.
    pub needs_rehouse: Option<RehouseNeed>,
    /// Whether she is with her egg sac.
    pub guarding_sac: bool,
    /// Every hold, past ones included.
    #[serde(default, deserialize_with = "rows::read")]
    pub holds: Vec<HoldFacts>,
    /// How well fed it last looked.
    #[serde(default)]
    pub condition: Option<Scored>,
    /// The rules set apart for it, past ones included.
    #[serde(default, deserialize_with = "rows::read")]
    pub apart: Vec<SetApart>,
}

/// A cohort, kept in vials or still together.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CohortFacts {
    /// Its number in the book.
    pub id: i64,
    /// Each in its own vial, rather than together in one box.
    pub in_vials: bool,
    /// How many are alive at each stage.
    pub counts: BTreeMap<Stage, u32>,
    /// What bears on people's safety; its life stage is the cohort's.
    pub hazard: HazardFacts,
    /// The care profile of its life stage.
    pub care: Care,
    /// Estimated leg span (DLS), mm.
    pub span_mm: Option<u32>,
    /// The day that the cohort began.
    pub started_on: NaiveDate,
    /// The last offer of prey to the group.
    pub last_meal: Option<LastMeal>,
    /// When live prey was left in that has not been cleared yet.
    pub left_in_at: Option<DateTime<Utc>>,
    /// The latest day on which any of them moulted.
    pub last_moult: Option<NaiveDate>,
    /// How many of them moulted on that day.
    pub moulted_then: u32,
    /// The day of the last moult check.
    pub last_moult_check: Option<NaiveDate>,
    /// The day of the last watering.
    pub last_water: Option<NaiveDate>,
    /// The day of the last spot clean.
    pub last_clean: Option<NaiveDate>,
    /// The day of the last full count.
    pub last_count: Option<NaiveDate>,
    /// Every hold, past ones included.
    #[serde(default, deserialize_with = "rows::read")]
    pub holds: Vec<HoldFacts>,
    /// The last full count that did not agree with the book.
    #[serde(default)]
    pub count_off: Option<CountOff>,
    /// The rules set apart for it, past ones included.
    #[serde(default, deserialize_with = "rows::read")]
    pub apart: Vec<SetApart>,
}

/// A full count that did not agree with the book.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CountOff {
    /// The local day of the count.
    pub day: NaiveDate,
    /// By how many.
    pub by: u32,
}

impl CohortFacts {
    /// How many are alive.
    pub fn alive(&self) -> u32 {
        together(self.counts.values())
    }

    /// How many are at a stage that takes prey.
    pub fn feeding(&self) -> u32 {
        together(self.counts.iter().filter(|(stage, _)| stage.feeds()).map(|(_, count)| count))
    }

    /// How many have hatched.
    pub fn hatched(&self) -> u32 {
        together(self.counts.iter().filter(|(stage, _)| **stage != Stage::Egg).map(|(_, count)| count))
    }
}

/// A sum of counts; the largest count there is if it would be more.
fn together<'a>(counts: impl Iterator<Item = &'a u32>) -> u32 {
    counts.fold(0, |sum, count| sum.saturating_add(*count))
}

/// An egg sac.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SacFacts {
    /// Its number in the book.
    pub id: i64,
    /// The day that it was laid.
    pub laid_on: NaiveDate,
    /// The day that it was taken from the dam.
    pub pulled_on: Option<NaiveDate>,
    /// Whether it is still with the dam.
    pub with_dam: bool,
    /// The day of the last sac check.
    pub last_check: Option<NaiveDate>,
    /// When it is meant to be pulled; none when it is left with the dam to emergence.
    pub pull: Option<PullWindow>,
    /// Opened and counted: it has become a cohort, and needs no more checks.
    pub opened: bool,
    /// Hazard of the dam.
    pub hazard: HazardFacts,
    /// Whether legs are out: what is in it needs no more turning.
    #[serde(default)]
    pub legs_out: bool,
    /// When it was last turned.
    #[serde(default)]
    pub last_turn: Option<DateTime<Utc>>,
    /// How its species' sacs are looked after; the usual way without it.
    #[serde(default)]
    pub rules: Option<SacRules>,
}

/// A room in which stock stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RoomFacts {
    /// Its number in the book.
    pub id: i64,
    /// How many of its racks hold stock.
    pub racks: u32,
    /// The day of the last reading of temperature or humidity in it.
    pub last_reading: Option<NaiveDate>,
    /// The day from which readings are due while there is none.
    pub since: NaiveDate,
}

/// One thing that duties are planned for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Subject {
    /// A tagged animal.
    Animal(AnimalFacts),
    /// A cohort.
    Cohort(CohortFacts),
    /// An egg sac.
    Sac(SacFacts),
    /// A room.
    Room(RoomFacts),
}

impl Subject {
    /// Which it is.
    pub fn key(&self) -> SubjectKey {
        let (kind, id) = match self {
            Self::Animal(facts) => (SubjectKind::Animal, facts.id),
            Self::Cohort(facts) => (SubjectKind::Cohort, facts.id),
            Self::Sac(facts) => (SubjectKind::Sac, facts.id),
            Self::Room(facts) => (SubjectKind::Room, facts.id),
        };
        SubjectKey { kind, id }
    }
}

/// A duty that is due or overdue on the planned day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlannedDuty {
    /// What it is about.
    pub subject: SubjectKey,
    /// What is to be done.
    pub kind: DutyKind,
    /// The local day it fell due.
    pub due_on: NaiveDate,
    /// The last local day on which it is not late.
    pub late_after: NaiveDate,
    /// The instant it is due by, where hours matter.
    pub due_at: Option<DateTime<Utc>>,
    /// How long it takes, in whole minutes, for each person (a planning default).
    pub minutes: u32,
    /// How near it brings hands.
    pub exposure: Exposure,
    /// The hazard band of the subject.
    pub band: Band,
    /// The clearance needed, 0 to 3.
    pub clearance: u8,
    /// How many people.
    pub persons: u8,
    /// Why it is due, with figures.
    pub reason: String,
    /// Why it must wait today, and until when; none when it can be done.
    pub held: Option<String>,
}

impl From<AnimalFacts> for Subject {
    fn from(facts: AnimalFacts) -> Self {
        Self::Animal(facts)
    }
}

impl From<CohortFacts> for Subject {
    fn from(facts: CohortFacts) -> Self {
        Self::Cohort(facts)
    }
}

impl From<SacFacts> for Subject {
    fn from(facts: SacFacts) -> Self {
        Self::Sac(facts)
    }
}

impl From<RoomFacts> for Subject {
    fn from(facts: RoomFacts) -> Self {
        Self::Room(facts)
    }
}
