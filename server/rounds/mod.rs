//! Rounds: the day's duties, who does them, and their sign-off.

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
