//! Tests of the animals room.
