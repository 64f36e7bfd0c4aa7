//! Buyers and handovers.

mod access;
mod forms;
mod hand_over;
mod readiness;
pub mod stock;
