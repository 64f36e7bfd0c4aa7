//! All SQL of duties and sign-offs.

mod facts;
mod feeding;
mod plan;

pub use facts::animal_facts;
pub use feeding::{next_feed_of_animal, next_feed_of_cohort};
pub use plan::{plan_house, planned_on, released, replan_animal, replan_cohort, replan_sac};
