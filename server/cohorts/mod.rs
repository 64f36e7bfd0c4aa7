//! Cohorts: spiderlings counted from a sac or bought in as a batch, and their count ledger.

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
}
