//! Staff: who works here, how they get in, and what the house is called.

pub mod model;
pub mod passphrase;
pub mod store;

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
