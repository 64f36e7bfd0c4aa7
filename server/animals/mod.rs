//! Animals: one tagged individual each, with what happened to it and where it stands.

pub mod model;
pub mod store;

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
