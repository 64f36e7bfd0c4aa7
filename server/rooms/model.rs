//! Rooms, racks and shelves.

use crate::house::ids::{AnimalId, CohortId, RackId, RoomId, ShelfId};

/// A room.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Room {
    /// Its id.
    pub id: RoomId,
    /// Its name.
    pub name: String,
    /// Its place in walking order.
    pub walk_order: i64,
}

/// A rack, with how much stands in it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Rack {
    /// Its id.
    pub id: RackId,
    /// Its room.
    pub room_id: RoomId,
    /// Its room's name.
    pub room_name: String,
    /// Its name.
    pub name: String,
    /// How many shelves it has.
    pub shelves: i64,
    /// How many tagged animals stand in it.
    pub animals: i64,
    /// How many cohorts stand in it.
    pub cohorts: i64,
}

/// A shelf, as lists of places offer it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Shelf {
    /// Its id.
    pub shelf_id: ShelfId,
    /// Room, rack and shelf in words.
    pub label: String,
}

/// Something that stands on a shelf.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Standing {
    /// The shelf's number.
    pub shelf_number: i64,
    /// Its position on the shelf.
    pub position: Option<i64>,
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is one.
    pub cohort_id: Option<CohortId>,
    /// Its tag or code.
    pub label: String,
    /// Its species.
    pub species: String,
}

/// A checked room.
#[derive(Debug, Clone)]
pub struct NewRoom {
    /// Its name.
    pub name: String,
    /// Its place in walking order.
    pub walk_order: i64,
}

/// A checked rack.
#[derive(Debug, Clone)]
pub struct NewRack {
    /// Its name.
    pub name: String,
    /// Its place in walking order.
    pub walk_order: i64,
    /// How many shelves to give it, numbered from 1 (the lowest number is walked first).
    pub shelves: i64,
}
