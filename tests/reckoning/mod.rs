//! The pure reckonings, held against published and worked values.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod breeders;
mod breeding;
mod breeding_check;
mod calendar;
mod climate;
mod command_line;
mod cusum;
mod difference;
mod dispatch;
mod enclosure;
mod generation;
mod ground;
mod growth;
mod growth_fit;
mod hazard;
mod holdback;
mod house_of_cohorts;
mod label_grid;
mod language;
mod ledger;
mod ledger_histories;
mod life_table;
mod lineage;
mod log_rank;
mod look_ahead;
mod loss_alarm;
mod loss_alarm_false_alarms;
mod loss_alarm_what_differs;
mod money;
mod moult;
mod moult_belief;
mod moult_calibration;
mod moult_learning;
mod oracles;
mod outing;
mod outside;
mod outside_house;
mod pedigree;
mod pedigree_ancestors;
mod planner;
mod planner_apart;
mod planner_cohorts_and_sacs;
mod planner_feeding;
mod planner_properties;
mod planner_rules;
mod planner_year;
mod prey;
mod prey_choice;
mod prose;
mod provenance;
mod provenance_chain;
mod rates;
mod reference_files;
mod rota;
mod rota_coming;
mod rota_properties;
mod rota_proven;
mod sac_forecast;
mod sale_readiness;
mod scorecard;
mod simulated;
mod strain;
mod subjects;
mod survival;
mod survival_of_cohorts;
mod tag;
mod together;
mod units;
mod who_may;

/// A day, for short.
pub fn on(text: &str) -> chrono::NaiveDate {
    text.parse().unwrap()
}
