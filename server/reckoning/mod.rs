//! The ground floor: pure reckoning. No async, no I/O, no SQL, no clock, no HTTP. Values in, values out,
//! every formula with its units and its source.

#[macro_use]
pub mod coded;
pub mod breeding;
pub mod calendar;
pub mod enclosure;
pub mod growth;
pub mod hazard;
pub mod moult;
pub mod planner;
pub mod stage;
pub mod tag;
pub mod units;
pub mod words;
