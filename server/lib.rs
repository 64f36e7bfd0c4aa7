//! Silkward: the working book of a tarantula breeding house. Each module is a room of the house.
//!
//! Imports run downwards: a room's `pages` use its `store`, its `store` its `model`, its `model` the `reckoning`.

// Ground floor: pure computations, and the shared services.
#[macro_use]
pub mod reckoning;
#[macro_use]
pub mod house;

// The rooms.
pub mod animals;
pub mod breeding;
pub mod cohorts;
pub mod demo;
pub mod handling;
pub mod papers;
pub mod records;
pub mod rooms;
pub mod rounds;
pub mod sales;
pub mod species;
pub mod staff;
