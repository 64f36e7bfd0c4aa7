//! What the planner is told: the facts of each subject, the house's rules, and what it gives back.

use std::collections::BTreeMap;

use chrono::{DateTime, Days, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};

use crate::reckoning::breeding::PullWindow;
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
    }
}

/// Which animal, cohort or sac a duty is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct SubjectKey {
    /// Animal, cohort or sac.
    pub kind: SubjectKind,
    /// Its number in the book.
    pub id: i64,
}

/// A care profile's numbers for one life stage. Days unless stated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Care {
    /// Least days between meals: a feed falls due.
    pub feed_min_days: u32,
    /// Most days between meals: a feed is late.
    pub feed_max_days: u32,
    /// Hours that live prey may stay in (24 by common practice).
    pub uneaten_hours: u32,
    /// Least days from one moult to the next.
    pub moult_min_days: u32,
    /// Most days from one moult to the next.
    pub moult_max_days: u32,
    /// Days between moult checks outside the moult window.
    pub moult_check_days: u32,
    /// Days between waterings.
    pub water_days: u32,
    /// Days between spot cleans.
    pub clean_days: u32,
    /// Days between cohort counts (30 by common practice).
    pub count_days: u32,
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
}

/// The house's own numbers; every default is common practice, no source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SiteRules {
    /// The zone whose local days the house works in.
    pub zone: Tz,
    /// Hours that a threat display holds opening.
    pub agitated_open_hours: u32,
    /// Days that a threat display holds work with hands in.
    pub agitated_hands_in_days: u32,
    /// Refusals in a row that raise a moult check, for spiderlings.
    pub refusals_spiderling: u32,
    /// The same for juveniles.
    pub refusals_juvenile: u32,
    /// The same for adults.
    pub refusals_adult: u32,
    /// Days between moult checks inside the window, for spiderlings and cohorts.
    pub close_check_spiderling_days: u32,
    /// The same for juveniles and adults.
    pub close_check_other_days: u32,
    /// Days between checks of a sac that is with its dam.
    pub sac_with_dam_days: u32,
    /// Days after a meal without a rehouse.
    pub rehouse_after_meal_days: u32,
}

impl Default for SiteRules {
    fn default() -> Self {
        Self {
            zone: Tz::UTC,
            agitated_open_hours: 24,
            agitated_hands_in_days: 3,
            refusals_spiderling: 3,
            refusals_juvenile: 4,
            refusals_adult: 6,
            close_check_spiderling_days: 2,
            close_check_other_days: 3,
            sac_with_dam_days: 7,
            rehouse_after_meal_days: 2,
        }
    }
}

impl SiteRules {
    /// The two holds that a threat display sets on this day: opening for hours (counted in whole days, rounded up),
    /// work with hands in for days.
    pub fn agitation_holds(&self, day: NaiveDate, reason: &str) -> [HoldFacts; 2] {
        let hold = |blocks, days: u32| HoldFacts {
            kind: HoldKind::Agitated,
            from: day,
            blocks,
            until: day.checked_add_days(Days::new(days.into())),
            reason: reason.to_owned(),
        };
        [hold(Exposure::Open, self.agitated_open_hours.div_ceil(24)), hold(Exposure::HandsIn, self.agitated_hands_in_days)]
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
