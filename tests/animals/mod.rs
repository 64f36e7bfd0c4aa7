//! Tests of the animals room.

mod bad_input;
mod coming;
mod entries;
mod lists;
mod pages;
mod sexing;
mod store;
mod support;
mod tags;
