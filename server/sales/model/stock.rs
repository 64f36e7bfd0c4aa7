//! Stock for sale: what may leave today, and why the rest may not.

use chrono::NaiveDate;

use super::{Item, Lot, Reservation};
use crate::house::ids::{AnimalId, CohortId, SpeciesId};
use crate::reckoning::sale_readiness::Finding;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{LifeStage, Sex};

/// The greatest leg span of each size class but the last, mm. A house's shelves are read in steps like these (common practice, no
/// source).
const SIZES: [u32; 5] = [20, 40, 80, 120, 160];

/// An animal, or a cohort's stage, as the stock's page shows it.
#[derive(Debug, Clone)]
pub struct StockItem {
    /// The animal, if it is one.
    pub animal: Option<AnimalId>,
    /// The cohort, if it is a stage of one.
    pub cohort: Option<CohortId>,
    /// Its stage, where known.
    pub stage: Option<Stage>,
    /// The tag or the cohort's code.
    pub label: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// Its species' accepted name.
    pub species: String,
    /// Its life stage.
    pub life_stage: LifeStage,
    /// Its sex.
    pub sex: Sex,
    /// Its leg span (DLS), mm.
    pub span_mm: Option<u32>,
    /// Room, rack and shelf in words.
    pub place: Option<String>,
    /// The position on the shelf.
    pub position: Option<i64>,
    /// Its hazard band.
    pub band: i64,
    /// How many are alive there.
    pub here: u32,
    /// How many are neither held back nor reserved.
    pub free: u32,
    /// How many may leave today.
    pub ready: u32,
    /// What speaks against its leaving, those that block first.
    pub findings: Vec<Finding>,
    /// The day from which it may leave, when it may not today and the day is known.
    pub from: Option<NaiveDate>,
    /// What is reserved of it.
    pub reserved: Vec<Reservation>,
}

impl StockItem {
    /// How addresses and forms name it: `a12`, `c3-i2`.
    #[must_use]
    pub fn code(&self) -> String {
        match (self.animal, self.cohort, self.stage) {
            (Some(animal), ..) => format!("a{animal}"),
            (None, Some(cohort), Some(stage)) => format!("c{cohort}-{}", stage.code()),
            _ => String::new(),
        }
    }

    /// Its stage in words: the instar of a lot, the life stage of an animal.
    #[must_use]
    pub fn stage_words(&self) -> String {
        match (self.animal, self.stage) {
            (None, Some(stage)) => stage.label(),
            (Some(_), Some(stage)) => format!("{}, {stage}", self.life_stage),
            _ => self.life_stage.to_string(),
        }
    }

    /// Its size class.
    #[must_use]
    pub fn size(&self) -> String {
        let Some(span) = self.span_mm else { return "not measured".to_owned() };
        let from = SIZES.iter().rev().find(|least| **least <= span).copied();
        let below = SIZES.iter().find(|most| span < **most).copied();
        match (from, below) {
            (_, Some(below)) => format!("{}–{} mm", from.unwrap_or(0), below - 1),
            (Some(from), None) => format!("{from} mm and more"),
            (None, None) => String::new(),
        }
    }

    /// How many of an animal or lot are reserved.
    #[must_use]
    pub fn reserved_count(&self) -> u32 {
        self.reserved.iter().map(|kept| kept.quantity).sum()
    }
}

/// What a code of [`StockItem::code`] names; a lot comes with a quantity of one.
#[must_use]
pub fn item_of(code: &str) -> Option<Item> {
    let code = code.trim();
    if let Some(animal) = code.strip_prefix('a') {
        return animal.parse().ok().map(Item::Animal);
    }
    let (cohort, stage) = code.strip_prefix('c').unwrap_or(code).split_once('-')?;
    Some(Item::Lot(Lot { cohort: cohort.parse().ok()?, stage: stage.parse().ok()?, quantity: 1 }))
}

/// What the stock is narrowed to.
#[derive(Debug, Clone, Default)]
pub struct StockFilter {
    /// One species.
    pub species: Option<SpeciesId>,
    /// A life stage or an instar, by its code.
    pub stage: String,
    /// One sex.
    pub sex: Option<Sex>,
    /// Only what may leave today.
    pub only_ready: bool,
}

impl StockFilter {
    /// Whether something is shown.
    #[must_use]
    pub fn takes(&self, item: &StockItem) -> bool {
        let stage =
            self.stage.is_empty() || item.life_stage.code() == self.stage || item.stage.is_some_and(|stage| stage.code() == self.stage);
        stage
            && self.species.is_none_or(|species| species == item.species_id)
            && self.sex.is_none_or(|sex| sex == item.sex)
            && (!self.only_ready || item.ready > 0)
    }
}

/// Stock of one species, stage, sex and size in figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockGroup {
    /// The species' accepted name.
    pub species: String,
    /// Its id.
    pub species_id: SpeciesId,
    /// The stage in words.
    pub stage: String,
    /// The sex.
    pub sex: Sex,
    /// The size class.
    pub size: String,
    /// How many are alive.
    pub here: u32,
    /// How many may leave today.
    pub ready: u32,
}

/// The stock by species, stage, sex and size, in the order of the list.
#[must_use]
pub fn groups(items: &[StockItem]) -> Vec<StockGroup> {
    let mut groups: Vec<StockGroup> = Vec::new();
    for item in items {
        let stage = if item.animal.is_some() { item.life_stage.to_string() } else { item.stage_words() };
        let new = StockGroup {
            species: item.species.clone(),
            species_id: item.species_id,
            stage,
            sex: item.sex,
            size: item.size(),
            here: item.here,
            ready: item.ready,
        };
        let same = |group: &&mut StockGroup| {
            (&group.species, &group.stage, group.sex, &group.size) == (&new.species, &new.stage, new.sex, &new.size)
        };
        match groups.iter_mut().find(same) {
            Some(group) => {
                group.here += new.here;
                group.ready += new.ready;
            }
            None => groups.push(new),
        }
    }
    groups.sort_by(|a, b| (&a.species, &a.stage, a.sex, &a.size).cmp(&(&b.species, &b.stage, b.sex, &b.size)));
    groups
}

/// The stock at a glance.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct StockNumbers {
    /// Tagged animals that may leave today.
    pub animals_ready: u32,
    /// Tagged animals.
    pub animals: u32,
    /// Spiderlings that may leave today.
    pub young_ready: u32,
    /// Spiderlings.
    pub young: u32,
    /// Animals and spiderlings that are reserved.
    pub reserved: u32,
}

impl StockNumbers {
    /// Of these.
    #[must_use]
    pub fn of(items: &[StockItem]) -> Self {
        let mut numbers = Self::default();
        let mut cohorts_seen = Vec::new();
        for item in items {
            match item.cohort {
                Some(cohort) => {
                    numbers.young += item.here;
                    numbers.young_ready += item.ready;
                    // What is reserved is reserved of the cohort, whichever of its stages it is taken from.
                    if !cohorts_seen.contains(&cohort) {
                        cohorts_seen.push(cohort);
                        numbers.reserved += item.reserved_count();
                    }
                }
                None => {
                    numbers.animals += 1;
                    numbers.animals_ready += item.ready;
                    numbers.reserved += item.reserved_count();
                }
            }
        }
        numbers
    }
}
