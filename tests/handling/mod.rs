//! Tests of the handling room.
