//! The day's duties, the round, and what the server refuses.

mod outcomes;
mod planning;
mod races;
mod refusals;
mod sharing;
mod shelves;
mod stock;
mod two_people;
mod undoing;
