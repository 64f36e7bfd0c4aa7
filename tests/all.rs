//! Rules and rooms: real database files, the real router.
// A test that cannot go on says so by stopping; its files are no part of the program's documentation.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod animals;
mod breeding;
mod cohorts;
mod handling;
mod house;
mod papers;
mod reckoning;
mod records;
mod rooms;
mod rounds;
mod sales;
mod species;
mod staff;
mod support;
