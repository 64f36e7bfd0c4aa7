//! Breeding: pairings and egg sacs, up to the day a sac is opened.

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
