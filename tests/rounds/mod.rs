//! The day's duties, the round, and what the server refuses.

mod handing_over;
mod moving;
mod never_wrong;
mod outcomes;
mod planning;
mod prey;
mod races;
mod refusals;
mod share_out;
mod sharing;
mod shelves;
pub mod stock;
mod two_people;
mod undoing;
mod why;
