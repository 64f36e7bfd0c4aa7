//! Tests of the animals room.

mod bad_input;
mod coming;
mod condition;
mod entries;
mod lists;
mod pages;
mod sexing;
mod store;
mod support;
mod tags;
