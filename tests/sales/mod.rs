//! Buyers, handovers, orders and prices.

mod access;
mod for_sale;
mod forms;
mod hand_over;
mod histories;
mod orders;
mod packing;
mod prices;
mod races;
mod readiness;
mod receipt;
mod reserved;
pub mod stock;
pub mod trade;
