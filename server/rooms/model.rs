//! Rooms, racks and shelves.

pub mod order;

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{AnimalId, CohortId, RackId, ReadingId, RoomId, ShelfId};
use crate::reckoning::climate::band::Quantity;

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

/// What an instrument showed.
#[derive(Debug, Clone, PartialEq, sqlx::FromRow)]
pub struct Reading {
    /// Its id.
    pub id: ReadingId,
    /// The room.
    pub room_id: RoomId,
    /// The rack; none when it stands for the whole room.
    pub rack_id: Option<RackId>,
    /// When it was read.
    pub at: DateTime<Utc>,
    /// The local day of that.
    pub day: NaiveDate,
    /// Temperature in tenths of a degree Celsius.
    pub decicelsius: Option<i64>,
    /// Relative humidity, %.
    pub humidity: Option<i64>,
    /// Who noted it; empty where that is not asked for.
    pub by_name: String,
}

impl Reading {
    /// Temperature, °C.
    #[must_use]
    pub fn celsius(&self) -> Option<f64> {
        // Tenths of a degree are small numbers.
        self.decicelsius.map(|tenths| tenths as f64 / 10.0)
    }

    /// What was read of a quantity, in its unit.
    #[must_use]
    pub fn value(&self, of: Quantity) -> Option<f64> {
        match of {
            Quantity::Celsius => self.celsius(),
            // Percentages are small numbers.
            Quantity::Humidity => self.humidity.map(|percent| percent as f64),
        }
    }
}

/// A checked reading.
#[derive(Debug, Clone)]
pub struct NewReading {
    /// The rack; none for the whole room.
    pub rack: Option<RackId>,
    /// When it was read.
    pub at: DateTime<Utc>,
    /// The local day of that.
    pub day: NaiveDate,
    /// Temperature in tenths of a degree Celsius.
    pub decicelsius: Option<i64>,
    /// Relative humidity, %.
    pub humidity: Option<i64>,
}
