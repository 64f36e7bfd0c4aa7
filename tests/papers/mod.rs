//! Tests of the papers room.
