//! The ground floor: pure reckoning. No async, no I/O, no SQL, no clock, no HTTP. Values in, values out,
//! every formula with its units and its source.

#[macro_use]
pub mod coded;
pub mod words;
