//! Tests of the shared services of the house.
