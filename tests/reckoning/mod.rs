//! The pure reckonings, held against published and worked values.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod breeding;
mod calendar;
mod enclosure;
mod growth;
mod hazard;
mod ledger;
mod ledger_histories;
mod moult;
mod oracles;
mod outside;
mod planner;
mod planner_cohorts_and_sacs;
mod planner_feeding;
mod planner_properties;
mod provenance;
mod sale_readiness;
mod subjects;
mod tag;
mod units;

/// A day, for short.
pub fn on(text: &str) -> chrono::NaiveDate {
    text.parse().unwrap()
}
