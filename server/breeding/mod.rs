//! Breeding: pairings and egg sacs, up to the day a sac is opened.

pub mod model;
pub mod store;

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
