//! Cohorts and their count ledger.

mod book;
mod group;
mod histories;
mod holdbacks;
mod losses;
mod losses_together;
mod pages;
mod schema;
mod scorecard;
pub mod stock;
mod survival;
