//! Buyers, handovers and what is on them.

mod buyers;
pub mod inventory;
mod orders;
mod outing;
mod packing;
mod prices;
pub mod recall;
mod reserved;
mod road;
mod stock;

use chrono::{DateTime, NaiveDate, Utc};

pub use buyers::{Bought, Buyer, Coming, Dealing, FIRST_DAYS, FoundBuyer, NewBuyer, OrderLine, Rule, Unfinished};
pub use orders::{NewLine, NewOrder, Order, OrderState, Sale, SaleLine, Wanted, totals};
pub use outing::{Back, BackHome, NewOuting, Outing, OutingItem, OutingLine, OutingState};
pub use packing::{NewPacking, PackLine, PickStop, Picked};
pub use prices::{NewPrice, NewTerms, Price, PriceClass, PriceList, PriceSex, Priced, Terms, price_for};
pub use reserved::{Keeper, NewReservation, Reservation, ReservationEnd, Way};
pub use road::{
    Arrival, ArrivalLine, CreditNote, CreditWhy, Credited, Journey, NewArrival, NewCredit, NewCreditLine, NewJourney, NewReturn, Returned,
    RoadRules, Sent,
};
pub use stock::{StockFilter, StockGroup, StockItem, StockNumbers, groups, item_of};

use crate::house::ids::{AnimalId, BuyerId, CohortId, HandoverId, HandoverLineId, OrderId, OutingId, PaperId, SpeciesId};
use crate::papers::model::Kin;
use crate::reckoning::sale_readiness::{Finding, may_leave};
use crate::reckoning::stage::Stage;
use crate::text_columns;

coded_enum! {
    /// How far a handover has come.
    HandoverState, "state of a handover" {
        Draft = "draft", "being made ready";
        Done = "done", "handed over";
        Cancelled = "cancelled", "cancelled";
    }
}

text_columns! { HandoverState }

/// A handover.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Handover {
    /// Its id.
    pub id: HandoverId,
    /// Who takes the animals.
    pub buyer_id: BuyerId,
    /// Their name.
    pub buyer_name: String,
    /// How far it has come.
    pub state: HandoverState,
    /// How the stock leaves.
    pub way: Way,
    /// The order that it fulfils.
    pub order_id: Option<OrderId>,
    /// The outing on which it is made.
    pub outing_id: Option<OutingId>,
    /// The day it was done.
    pub day: Option<NaiveDate>,
    /// When it was done.
    pub done_at: Option<DateTime<Utc>>,
    /// Who did it.
    pub done_by_name: Option<String>,
    /// A lead's reason for letting something go against the readiness check; empty when there was none.
    pub override_reason: String,
    /// Who gave it.
    pub override_by_name: Option<String>,
    /// A note for the staff.
    pub note: String,
    /// When it was begun.
    pub created_at: DateTime<Utc>,
    /// How many lines are on it.
    pub lines: i64,
    /// Goes up with every change, so that nobody hands over another list than the one they see.
    pub version: i64,
}

/// One animal, or a number out of a cohort, on a handover.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Line {
    /// Its id.
    pub id: HandoverLineId,
    /// The handover that it is on; none for stock that is only looked at.
    pub handover_id: Option<HandoverId>,
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is a number out of one.
    pub cohort_id: Option<CohortId>,
    /// The stage that the number is taken from.
    pub stage: Option<Stage>,
    /// How many.
    pub quantity: u32,
    /// The animal's tag or the cohort's code.
    pub label: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// Its species' accepted name.
    pub species: String,
    /// The care sheet that was issued for it.
    pub paper_id: Option<PaperId>,
}

/// What a line takes out of the house.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// A tagged animal.
    Animal(AnimalId),
    /// A number out of a cohort.
    Lot(Lot),
}

/// A number out of a cohort at one stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lot {
    /// The cohort.
    pub cohort: CohortId,
    /// The stage.
    pub stage: Stage,
    /// How many.
    pub quantity: u32,
}

impl Line {
    /// What it takes out of the house; nothing for a row that names neither an animal nor a cohort's stage, which the
    /// database does not allow.
    #[must_use]
    pub fn item(&self) -> Option<Item> {
        match (self.animal_id, self.cohort_id, self.stage) {
            (Some(animal), _, _) => Some(Item::Animal(animal)),
            (None, Some(cohort), Some(stage)) => Some(Item::Lot(Lot { cohort, stage, quantity: self.quantity })),
            _ => None,
        }
    }

    /// The page of where it comes from.
    #[must_use]
    pub fn provenance(&self) -> String {
        match (self.animal_id, self.cohort_id) {
            (Some(animal), _) => Kin::Animal(animal).provenance(),
            (None, Some(cohort)) => Kin::Cohort(cohort).provenance(),
            (None, None) => crate::house::paths::PROVENANCE.to_owned(),
        }
    }

    /// What is on the line, in words: `tag 0001K`, `40 out of cohort C-3, second instar`.
    #[must_use]
    pub fn words(&self) -> String {
        match self.stage {
            Some(stage) => format!("{} out of cohort {}, {stage}", self.quantity, self.label),
            None => format!("tag {}", self.label),
        }
    }
}

/// A line with what speaks against its leaving today.
#[derive(Debug, Clone)]
pub struct CheckedLine {
    /// The line.
    pub line: Line,
    /// The reasons, those that block first.
    pub findings: Vec<Finding>,
    /// Its hazard band: packing brings hands near. Not worked out for what has left.
    pub band: Option<i64>,
    /// Why it cannot leave whatever anybody says: it is gone, or fewer are free. No override helps.
    pub impossible: Option<String>,
}

impl CheckedLine {
    /// Whether a lead's reason would be needed.
    #[must_use]
    pub fn blocked(&self) -> bool {
        !may_leave(&self.findings)
    }
}

/// A cohort's stage that has some free to sell.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Offer {
    /// The cohort.
    pub cohort_id: CohortId,
    /// Its code.
    pub code: String,
    /// Its species' accepted name.
    pub species: String,
    /// The stage.
    pub stage: Stage,
    /// How many are alive at that stage and neither held back nor reserved.
    pub free: i64,
}
