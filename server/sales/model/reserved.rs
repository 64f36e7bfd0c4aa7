//! What is kept for somebody, and the ways in which stock leaves.

use chrono::NaiveDate;

use super::Item;
use crate::house::ids::{AnimalId, BuyerId, CohortId, OrderId, OutingId, ReservationId};
use crate::reckoning::stage::Stage;
use crate::text_columns;

coded_enum! {
    /// How stock leaves the house.
    Way, "way of leaving" {
        Collection = "collection", "collected here";
        Dispatch = "dispatch", "sent";
        Outing = "outing", "sold on an outing";
    }
}

coded_enum! {
    /// How a reservation ended.
    ReservationEnd, "end of a reservation" {
        Used = "used", "handed over";
        Released = "released", "released";
        Lapsed = "lapsed", "lapsed";
    }
}

text_columns! { Way, ReservationEnd }

/// For whom something is kept: those who may take it, and nobody else.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Keeper {
    /// A buyer.
    pub buyer: Option<BuyerId>,
    /// An order.
    pub order: Option<OrderId>,
    /// An outing.
    pub outing: Option<OutingId>,
}

/// A checked reservation.
#[derive(Debug, Clone)]
pub struct NewReservation {
    /// What is kept.
    pub item: Item,
    /// For whom.
    pub keeper: Keeper,
    /// Its last day.
    pub until: NaiveDate,
    /// A note; may be empty.
    pub note: String,
}

/// A reservation as pages show it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Reservation {
    /// Its id.
    pub id: ReservationId,
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is a number out of one.
    pub cohort_id: Option<CohortId>,
    /// The stage that was asked for.
    pub stage: Option<Stage>,
    /// How many.
    pub quantity: u32,
    /// The animal's tag or the cohort's code.
    pub label: String,
    /// Its species' accepted name.
    pub species: String,
    /// The buyer that it is kept for.
    pub buyer_id: Option<BuyerId>,
    /// The order that it is kept for.
    pub order_id: Option<OrderId>,
    /// The outing that it is kept for.
    pub outing_id: Option<OutingId>,
    /// Its last day.
    pub until: NaiveDate,
    /// A note.
    pub note: String,
    /// The day it was made.
    pub made_on: NaiveDate,
    /// Who made it.
    pub made_by_name: Option<String>,
    /// How it ended; none while it stands.
    pub ended_as: Option<ReservationEnd>,
}

impl Reservation {
    /// Whether it is kept for one of these.
    #[must_use]
    pub fn is_for(&self, keeper: Keeper) -> bool {
        (self.order_id.is_some() && self.order_id == keeper.order)
            || (self.outing_id.is_some() && self.outing_id == keeper.outing)
            || (self.buyer_id.is_some() && self.buyer_id == keeper.buyer)
    }

    /// Until when, for which order, outing or buyer, and by whom. It names the buyer by number only: whoever looks after the
    /// animals reads it too.
    #[must_use]
    pub fn words(&self) -> String {
        let whom = match (self.order_id, self.outing_id, self.buyer_id) {
            (Some(order), ..) => format!("order {order}"),
            (None, Some(outing), _) => format!("outing {outing}"),
            (None, None, Some(buyer)) => format!("buyer {buyer}"),
            (None, None, None) => "somebody".to_owned(),
        };
        let by = self.made_by_name.as_ref().map_or_else(String::new, |name| format!(" (by {name})"));
        format!("until {} for {whom}{by}", crate::house::text::day(&self.until))
    }

    /// Whether its last day is at most so many days ahead.
    #[must_use]
    pub fn ends_within(&self, days: i64, today: &NaiveDate) -> bool {
        (self.until - *today).num_days() <= days
    }
}
