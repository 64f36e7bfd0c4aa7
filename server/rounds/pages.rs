//! Pages of the day: the round, the sign-off of one duty, a shelf at once, and the lead's day.

mod duty;
mod forms;
mod intake;
mod next;
mod prey;
mod queue;
mod round;
mod share;
mod share_out;
mod shelf;
mod stop;
pub(super) mod tablet;
mod today;
mod waiting;

pub(super) use duty::{hands_in, show, sign_count, sign_group, sign_moult, sign_quick};
pub(super) use next::undo;
pub(super) use prey::{prey, prey_csv};
pub(super) use queue::{arrive, who};
pub(super) use round::{home, round};
pub(super) use share::{assign_one, assign_rack, plan_again, take, take_rack, unassign};
pub(super) use share_out::{give_out, propose};
pub(super) use shelf::{feed_shelf, sign_shelf};
pub(super) use today::today;
pub(super) use waiting::{settle, waiting};
