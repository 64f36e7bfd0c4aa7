//! The ground floor: pure reckoning. No async, no I/O, no SQL, no clock, no HTTP. Values in, values out,
//! every formula with its units and its source.

#[macro_use]
pub mod coded;
pub mod breeding;
pub mod hazard;
pub mod planner;
pub mod stage;
pub mod words;
