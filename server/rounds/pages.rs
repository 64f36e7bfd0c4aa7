//! Pages of the day: the round, the sign-off of one duty, a shelf at once, and the lead's day.

mod apart;
mod due;
mod duty;
mod forms;
mod next;
mod prey;
mod readings;
mod round;
mod share;
mod share_out;
mod shelf;
mod stop;
mod today;

pub(super) use apart::{apart_of_animal, apart_of_cohort, end_apart, set_apart_animal, set_apart_cohort};
pub(super) use due::{due_of_animal, due_of_cohort, due_of_sac};
pub(super) use duty::{hands_in, legs_out, show, sign_count, sign_group, sign_moult, sign_quick, sign_readings};
pub(super) use next::undo;
pub(super) use prey::{prey, prey_csv};
pub(super) use round::{home, round};
pub(super) use share::{assign_one, assign_rack, plan_again, take, take_rack, unassign};
pub(super) use share_out::{give_out, propose};
pub(super) use shelf::{feed_shelf, sign_shelf};
pub(super) use today::today;
