//! All SQL of duties and sign-offs.

mod assign;
mod effects;
mod expected;
mod facts;
mod feeding;
mod group;
mod moves;
mod pass_on;
mod plan;
mod prey;
mod read;
mod ready;
pub mod share;
mod sign_off;
mod today;

pub use super::model::why::why_unassigned;
pub use assign::{assign, assign_rack, second_shortfall, shortfall, unassign};
pub use expected::{Expected, expected_moults};
pub use facts::{animal_facts, coming_feeds};
pub use feeding::{next_feed_of_animal, next_feed_of_cohort};
pub use moves::move_duty;
pub use pass_on::{not_in, passed_on};
pub use plan::{plan_house, planned_on, released, replan_animal, replan_cohort, replan_sac};
pub use read::{
    Known, UNDO_MINUTES, can_undo, feeds_on_shelf, is_free_feed, known, known_of, open, open_of, require, round_of, signoff_of,
};
pub use ready::{When, checklist_of, faults, wanted_size};
pub use sign_off::{how_it_ended, sign_off, undo};
pub use today::{SacToPull, sacs_to_pull};
