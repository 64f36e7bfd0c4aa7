//! All SQL of duties and sign-offs.

mod ahead;
mod apart;
mod assign;
mod effects;
mod expected;
mod facts;
mod feeding;
mod findings;
mod group;
mod moves;
mod outlook;
mod pass_on;
mod plan;
pub mod prey;
pub mod queue;
mod read;
mod ready;
pub mod share;
mod sign_off;
pub mod tablet;
mod today;

pub use super::model::why::why_unassigned;
pub use ahead::{ahead, coming};
pub use apart::{apart_of, end_apart, require_apart, set_apart};
pub use assign::{assign, assign_rack, second_shortfall, shortfall, unassign};
pub use expected::{Expected, expected_moults};
pub use facts::animal_facts;
pub use feeding::{next_feed_of_animal, next_feed_of_cohort};
pub use findings::{findings_to_do, findings_to_undo, record_finding, record_found_moult, require_finding, settle_finding};
pub use moves::move_duty;
pub use outlook::{open_of_subject, outlook};
pub use pass_on::{not_in, passed_on};
pub use plan::{plan_house, planned_on, released, replan_animal, replan_cohort, replan_room, replan_sac};
pub use read::{
    Known, UNDO_MINUTES, can_undo, known, known_of, open, open_at, open_of, require, round_of, second_of, signed_on, signoff_of,
};
pub use ready::{When, checklist_of, faults, wanted_size};
pub use sign_off::{how_it_ended, sign_off, undo, undo_at};
pub use today::{SacToPull, sacs_to_pull};
