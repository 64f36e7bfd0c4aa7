//! Tests of the cohorts room.
