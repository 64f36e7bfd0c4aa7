//! Tests of the breeding room.
