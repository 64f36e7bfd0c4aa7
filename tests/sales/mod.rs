//! Buyers and handovers.

mod access;
mod dispatch;
mod forms;
mod hand_over;
mod outings;
mod readiness;
mod reserved;
mod returns;
pub mod stock;
