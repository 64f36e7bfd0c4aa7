//! The day's duties, the round, and what the server refuses.

mod planning;
mod stock;
