//! Tests of the animals room.

mod store;
mod support;
