//! Cohorts and their count ledger.

mod book;
pub mod stock;
