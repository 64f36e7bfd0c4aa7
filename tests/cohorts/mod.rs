//! Cohorts and their count ledger.

mod book;
mod group;
mod histories;
mod losses;
mod pages;
mod schema;
pub mod stock;
mod survival;
