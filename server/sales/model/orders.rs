//! Orders, and what is sold at which price.

use chrono::{DateTime, NaiveDate, Utc};

use super::{Item, Lot, Way};
use crate::house::ids::{AnimalId, BuyerId, CohortId, HandoverId, OrderId, SaleLineId, SpeciesId};
use crate::reckoning::money::{self, MoneyError, Totals};
use crate::reckoning::stage::Stage;
use crate::sales::model::prices::Terms;
use crate::text_columns;

coded_enum! {
    /// How far an order has come.
    OrderState, "state of an order" {
        Open = "open", "open";
        HandedOver = "handed-over", "handed over";
        Cancelled = "cancelled", "cancelled";
    }
}

text_columns! { OrderState }

/// An order.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Order {
    /// Its id.
    pub id: OrderId,
    /// Who ordered.
    pub buyer_id: BuyerId,
    /// Their name.
    pub buyer_name: String,
    /// How far it has come.
    pub state: OrderState,
    /// How the stock leaves.
    pub way: Way,
    /// The day it is wanted for.
    pub wanted_on: Option<NaiveDate>,
    /// The last day on which its stock is kept.
    pub reserve_until: Option<NaiveDate>,
    /// A note for the staff.
    pub note: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Who made it.
    pub created_by_name: String,
    /// When it ended.
    pub ended_at: Option<DateTime<Utc>>,
    /// How many animals and spiderlings are on it.
    pub pieces: i64,
    /// For changes: the version that was read.
    pub version: i64,
}

/// A checked order.
#[derive(Debug, Clone)]
pub struct NewOrder {
    /// How the stock leaves.
    pub way: Way,
    /// The day it is wanted for.
    pub wanted_on: Option<NaiveDate>,
    /// The last day on which its stock is kept.
    pub reserve_until: NaiveDate,
    /// A note for the staff; may be empty.
    pub note: String,
}

/// Where something is sold: on an order, or on a handover that was begun without one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sale {
    /// An order.
    Order(OrderId),
    /// A handover.
    Handover(HandoverId),
}

/// What to sell: an animal, or so many packs out of a cohort's stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// A tagged animal.
    Animal(AnimalId),
    /// Packs out of a cohort's stage.
    Packs {
        /// The cohort.
        cohort: CohortId,
        /// The stage.
        stage: Stage,
        /// How many packs.
        packs: u32,
        /// How many are in each; 1 for singles.
        pack_of: u32,
    },
}

impl Wanted {
    /// What it takes out of the house.
    #[must_use]
    pub fn item(self) -> Item {
        match self {
            Self::Animal(animal) => Item::Animal(animal),
            Self::Packs { cohort, stage, packs, pack_of } => Item::Lot(Lot { cohort, stage, quantity: packs.saturating_mul(pack_of) }),
        }
    }
}

/// What is sold at one price.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct SaleLine {
    /// Its id.
    pub id: SaleLineId,
    /// The order that it is on.
    pub order_id: Option<OrderId>,
    /// The handover that it is on.
    pub handover_id: Option<HandoverId>,
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is packs out of one.
    pub cohort_id: Option<CohortId>,
    /// The stage.
    pub stage: Option<Stage>,
    /// The animal's tag or the cohort's code.
    pub label: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// Its species' accepted name.
    pub species: String,
    /// How many packs.
    pub packs: u32,
    /// How many in each.
    pub pack_of: u32,
    /// The price of one by the list, in minor units.
    pub list_minor: Option<i64>,
    /// What is asked for one, in minor units.
    pub unit_minor: Option<i64>,
    /// Whether the handover that it is on has been done.
    pub is_done: bool,
}

impl SaleLine {
    /// How many animals or spiderlings.
    #[must_use]
    pub fn pieces(&self) -> u32 {
        self.packs * self.pack_of
    }

    /// What it takes out of the house.
    #[must_use]
    pub fn item(&self) -> Option<Item> {
        match (self.animal_id, self.cohort_id, self.stage) {
            (Some(animal), _, _) => Some(Item::Animal(animal)),
            (None, Some(cohort), Some(stage)) => Some(Item::Lot(Lot { cohort, stage, quantity: self.pieces() })),
            _ => None,
        }
    }

    /// In words: `tag 0001K`, `8 packs of 5 out of cohort C-3, second instar`.
    #[must_use]
    pub fn words(&self) -> String {
        let Some(stage) = self.stage else { return format!("tag {}", self.label) };
        match (self.packs, self.pack_of) {
            (packs, 1) => format!("{packs} out of cohort {}, {stage}", self.label),
            (1, of) => format!("1 pack of {of} out of cohort {}, {stage}", self.label),
            (packs, of) => format!("{packs} packs of {of} out of cohort {}, {stage}", self.label),
        }
    }

    /// What is asked for all of it.
    #[must_use]
    pub fn sum_minor(&self) -> Option<i64> {
        self.unit_minor.map(|unit| unit * i64::from(self.packs))
    }

    /// How much less than by the list is asked for all of it; nothing when no less is.
    #[must_use]
    pub fn discount_minor(&self) -> Option<i64> {
        let less = self.list_minor? - self.unit_minor?;
        (less > 0).then(|| less * i64::from(self.packs))
    }
}

/// The totals of lines that all have a price; nothing when none has one.
///
/// # Errors
/// Totals too large, or a tax rate that is none.
pub fn totals(lines: &[SaleLine], terms: &Terms) -> Result<Option<Totals>, MoneyError> {
    let priced: Vec<money::Line> = lines
        .iter()
        .filter_map(|line| Some(money::Line { quantity: line.packs, unit_minor: u64::try_from(line.unit_minor?).ok()? }))
        .collect();
    if priced.is_empty() {
        return Ok(None);
    }
    money::totals(&priced, terms.rate()?, terms.prices_include_tax, terms.rounding).map(Some)
}

/// The columns of a line for what is wanted.
#[derive(Debug, Clone, Copy)]
pub struct NewLine {
    /// The animal, if it is one.
    pub animal: Option<AnimalId>,
    /// The cohort, if it is packs out of one.
    pub cohort: Option<CohortId>,
    /// The stage.
    pub stage: Option<Stage>,
    /// How many packs.
    pub packs: u32,
    /// How many in each.
    pub pack_of: u32,
}

impl NewLine {
    /// Of what is wanted.
    #[must_use]
    pub fn of(wanted: Wanted) -> Self {
        match wanted {
            Wanted::Animal(animal) => Self { animal: Some(animal), cohort: None, stage: None, packs: 1, pack_of: 1 },
            Wanted::Packs { cohort, stage, packs, pack_of } => {
                Self { animal: None, cohort: Some(cohort), stage: Some(stage), packs, pack_of }
            }
        }
    }
}
