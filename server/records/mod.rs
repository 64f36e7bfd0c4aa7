//! Records: search, import, and the audit trail.

pub mod export;
pub mod import;
pub mod model;
mod pages;
pub mod restore;
pub mod store;
pub mod verify;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new().get("/records", May::Member, pages::search).get("/records/audit", May::Lead, pages::audit).and(import::routes())
}
