//! Buyers, handovers, orders and prices.

mod access;
mod buyers;
mod erasure;
mod for_sale;
mod forms;
mod forms;
mod hand_over;
mod hand_over;
mod histories;
mod orders;
mod packing;
mod person;
mod prices;
mod races;
mod readiness;
mod readiness;
mod recall;
mod recall_histories;
mod receipt;
mod reserved;
mod retention;
pub mod stock;
pub mod trade;
