//! Cohorts: spiderlings counted together, and the ledger of their counts.

pub mod model;
pub mod store;

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
