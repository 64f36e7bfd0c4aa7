//! All SQL of duties and sign-offs.

mod facts;
mod plan;

pub use facts::animal_facts;
pub use plan::{plan_house, planned_on, released, replan_animal, replan_cohort, replan_sac};
