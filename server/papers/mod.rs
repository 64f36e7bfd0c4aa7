//! Papers: care sheets as issued, and the buyer's way to them.

pub mod frame;
pub mod model;
mod pages;
mod sheet;
mod shown;
pub mod store;
pub mod wording;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/papers/{paper}", May::Sell, pages::for_staff)
        .post("/papers/{paper}/revoke", May::Sell, pages::revoke)
        .post("/papers/{paper}/link", May::Sell, pages::new_link)
        .get("/sheet/{token}", May::Anybody, pages::for_buyer)
        .get("/sheet/{token}/original", May::Anybody, pages::original)
}
