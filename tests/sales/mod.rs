//! Buyers and handovers.

mod access;
mod buyers;
mod erasure;
mod forms;
mod hand_over;
mod person;
mod readiness;
mod recall;
mod recall_histories;
mod retention;
pub mod stock;
