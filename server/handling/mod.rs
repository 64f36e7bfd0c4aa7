//! Handling: risk, who is cleared for what, incidents, and what to do in one.

pub mod model;
pub mod store;

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
