//! Cohorts and their count ledger.

mod book;
mod group;
mod histories;
mod losses;
mod losses_together;
mod pages;
mod schema;
pub mod stock;
mod survival;
