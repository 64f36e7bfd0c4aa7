//! The day's duties, the round, and what the server refuses.

mod ahead;
mod batches;
mod due;
mod findings;
mod handing_over;
mod moving;
mod never_wrong;
mod outcomes;
mod paper;
mod planning;
mod prey;
mod prey_book;
mod prey_month;
mod prey_usual;
mod races;
mod refusals;
mod rooms_and_sacs;
mod rules;
mod share_out;
mod sharing;
pub mod stock;
mod tablet;
mod two_people;
mod undoing;
mod waiting;
mod why;
