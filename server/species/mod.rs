//! Species: what each kind of tarantula is called, how it lives, what it can do to a person, and its care.

pub mod model;
pub mod names;
pub mod starter;
pub mod store;

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
