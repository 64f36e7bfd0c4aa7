//! Cohorts and their count ledger.

mod book;
mod pages;
pub mod stock;
