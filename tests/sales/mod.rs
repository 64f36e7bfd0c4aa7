//! Buyers, handovers, orders and prices.

mod access;
mod buyers;
mod dispatch;
mod erasure;
mod for_sale;
mod forms;
mod hand_over;
mod histories;
mod orders;
mod outings;
mod packing;
mod person;
mod prices;
mod races;
mod readiness;
mod recall;
mod recall_histories;
mod receipt;
mod reserved;
mod retention;
mod returns;
pub mod stock;
pub mod trade;
