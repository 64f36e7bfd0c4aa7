//! All SQL of prey: its kinds and rules, its book, what everybody is usually given, and what will be needed.

mod book;
mod kinds;
mod need;
mod today;
mod usual;

pub use book::{add_line, count, lines, reverse, stock, used_since};
pub use kinds::{add_kind, add_usual_kinds, change_kind, kinds, policy, require_kind, rules, set_policy, set_rules};
pub use need::coming_feeds;
pub use today::prey_today;
pub(super) use usual::book_of;
pub use usual::{book as usual_book, set_own, usual_of};
