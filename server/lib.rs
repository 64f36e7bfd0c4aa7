//! Silkward: the working book of a tarantula breeding house.

#[macro_use]
pub mod reckoning;
pub mod species;
