//! Records: search, import, export, and the audit trail.

pub mod import;

use crate::house::access::Routes;

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new().and(import::routes())
}
