//! Tests of the staff room.
