//! Rounds: the day's duties, who does them, and their sign-off.

mod keep;
pub mod model;
pub mod store;

use crate::house::access::Routes;

pub use keep::{keep_planned, plan_day_if_needed};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
