//! Picking and packing: where things stand, who may pack them, what is in the box.

use crate::house::ids::{AnimalId, CohortId, MemberId, OrderId};
use crate::reckoning::stage::Stage;

/// A line of a handover with how many of it are in the box.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct PackLine {
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is a number out of one.
    pub cohort_id: Option<CohortId>,
    /// The stage.
    pub stage: Option<Stage>,
    /// The tag or the cohort's code.
    pub label: String,
    /// The species' accepted name.
    pub species: String,
    /// How many go.
    pub quantity: u32,
    /// How many are in the box.
    pub packed: u32,
}

impl PackLine {
    /// How many are missing.
    #[must_use]
    pub fn missing(&self) -> u32 {
        self.quantity.saturating_sub(self.packed)
    }

    /// In words: `tag 0001K`, `12 out of cohort C-3, second instar`.
    #[must_use]
    pub fn words(&self, count: u32) -> String {
        match self.stage {
            Some(stage) => format!("{count} out of cohort {}, {stage}", self.label),
            None => format!("tag {}", self.label),
        }
    }
}

/// What was scanned into the box.
#[derive(Debug, Clone)]
pub struct NewPacking {
    /// The codes in the order they were scanned: tags, cohort codes, or addresses that hold one.
    pub codes: Vec<String>,
    /// How many of a lot; none: one for each scan.
    pub count: Option<u32>,
    /// Who packed.
    pub packer: MemberId,
    /// With whom, where it takes two.
    pub second: Option<MemberId>,
}

/// What is to be fetched, with where it stands.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Picked {
    /// The order.
    pub order_id: OrderId,
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is a number out of one.
    pub cohort_id: Option<CohortId>,
    /// The stage.
    pub stage: Option<Stage>,
    /// The tag or the cohort's code.
    pub label: String,
    /// The species' accepted name.
    pub species: String,
    /// How many packs.
    pub packs: u32,
    /// How many in each.
    pub pack_of: u32,
    /// Room, rack and shelf in words.
    pub place: Option<String>,
    /// The position on the shelf.
    pub position: Option<i64>,
}

/// A stop of the pick list.
#[derive(Debug, Clone)]
pub struct PickStop {
    /// What is fetched.
    pub picked: Picked,
    /// Its hazard band.
    pub band: i64,
    /// What a person must know before opening.
    pub cautions: Vec<String>,
    /// What packing it asks for, and who may.
    pub who_may: String,
    /// What speaks against its leaving today.
    pub findings: Vec<String>,
}

impl Picked {
    /// How many, in words.
    #[must_use]
    pub fn count(&self) -> String {
        match (self.animal_id, self.pack_of) {
            (Some(_), _) => "1".to_owned(),
            (None, 1) => self.packs.to_string(),
            (None, of) => format!("{} × {of}", self.packs),
        }
    }
}
