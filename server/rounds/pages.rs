//! Pages of the day: the round, the sign-off of one duty, a rack at once, what else is found, and the lead's day.

pub(super) mod ahead;
mod batch;
mod duties;
mod duty;
mod forms;
mod found;
mod intake;
mod next;
mod paper;
mod people;
pub(super) mod prey;
mod queue;
mod round;
mod share;
mod share_out;
mod stop;
mod stops;
mod today;
mod waiting;

pub(super) use batch::{show_batch, sign_batch};
pub(super) use duties::{duties, move_one};
pub(super) use duty::{hands_in, show, sign_count, sign_group, sign_moult, sign_quick};
pub(super) use found::{finding_dealt_with, found, take_finding_back};
pub(super) use next::undo;
pub(super) use paper::{enter, paper, save_entered};
pub(super) use people::{in_after_all, not_in, passed_on};
pub(super) use queue::{arrive, who};
pub(super) use round::{home, round};
pub(super) use share::{assign_one, assign_rack, plan_again, take, take_rack, unassign};
pub(super) use share_out::{give_out, propose};
pub(super) use stops::stops;
pub(super) use today::today;
pub(super) use waiting::{settle, waiting};
