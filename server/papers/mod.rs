//! Papers: care sheets as issued, and the buyer's way to them.

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
