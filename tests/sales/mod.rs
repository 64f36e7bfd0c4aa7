//! Buyers and handovers.

mod access;
mod forms;
mod hand_over;
mod readiness;
mod reserved;
pub mod stock;
