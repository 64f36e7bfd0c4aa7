//! The walking order of a house.

use crate::house::ids::{RackId, RoomId, ShelfId};

coded_enum! {
    /// One place in the walking order.
    Step, "step" {
        Earlier = "earlier", "earlier";
        Later = "later", "later";
    }
}

/// A room with what is walked in it.
#[derive(Debug, Clone)]
pub struct WalkedRoom {
    /// Its id.
    pub id: RoomId,
    /// Its name.
    pub name: String,
    /// Its racks, in walking order.
    pub racks: Vec<WalkedRack>,
}

/// A rack with its shelves.
#[derive(Debug, Clone)]
pub struct WalkedRack {
    /// Its id.
    pub id: RackId,
    /// Its name.
    pub name: String,
    /// Its shelves, in walking order.
    pub shelves: Vec<WalkedShelf>,
}

/// A shelf.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct WalkedShelf {
    /// Its id.
    pub id: ShelfId,
    /// Its number.
    pub number: i64,
}

/// The new order when one of a row takes one step; nothing when it stands at that end already, or not in the row.
#[must_use]
pub fn stepped(row: &[i64], one: i64, step: Step) -> Option<Vec<i64>> {
    let place = row.iter().position(|other| *other == one)?;
    let other = match step {
        Step::Earlier => place.checked_sub(1)?,
        Step::Later => Some(place + 1).filter(|later| *later < row.len())?,
    };
    let mut stepped = row.to_vec();
    stepped.swap(place, other);
    Some(stepped)
}
