//! Pages of the day: the round, the sign-off of one duty, a shelf at once, and the lead's day.

mod duties;
mod duty;
mod forms;
mod next;
mod people;
mod prey;
mod round;
mod share;
mod share_out;
mod shelf;
mod stop;
mod today;

pub(super) use duties::{duties, move_one};
pub(super) use duty::{hands_in, show, sign_count, sign_group, sign_moult, sign_quick};
pub(super) use next::undo;
pub(super) use people::{in_after_all, not_in, passed_on};
pub(super) use prey::{prey, prey_csv};
pub(super) use round::{home, round};
pub(super) use share::{assign_one, assign_rack, plan_again, take, take_rack, unassign};
pub(super) use share_out::{give_out, propose};
pub(super) use shelf::{feed_shelf, sign_shelf};
pub(super) use today::today;
