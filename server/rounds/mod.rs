//! Rounds: the day's duties, who does them, and their sign-off.

mod keep;
pub mod model;
mod pages;
pub mod store;

use crate::house::access::{May, Routes};

pub use keep::{keep_planned, plan_day_if_needed};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/", May::Member, pages::home)
        .get("/round", May::Keep, pages::round)
        .get("/round/duties/{duty}", May::Keep, pages::show)
        .post("/round/duties/{duty}", May::Keep, pages::sign_quick)
        .post("/round/duties/{duty}/moult", May::Keep, pages::sign_moult)
        .post("/round/duties/{duty}/figures", May::Keep, pages::sign_group)
        .post("/round/duties/{duty}/count", May::Keep, pages::sign_count)
        .post("/round/duties/{duty}/hands-in", May::Keep, pages::hands_in)
        .post("/round/duties/{duty}/take", May::Keep, pages::take)
        .post("/round/racks/{rack}/take", May::Keep, pages::take_rack)
        .post("/round/sign-offs/{signoff}/undo", May::Keep, pages::undo)
        .get("/round/shelves/{shelf}/feed", May::Keep, pages::feed_shelf)
        .post("/round/shelves/{shelf}/feed", May::Keep, pages::sign_shelf)
        .get("/today", May::Lead, pages::today)
        .get("/today/prey", May::Keep, pages::prey)
        .get("/today/prey.csv", May::Keep, pages::prey_csv)
        .get("/today/share", May::Lead, pages::propose)
        .post("/today/share", May::Lead, pages::give_out)
        .post("/today/plan", May::Lead, pages::plan_again)
        .get("/today/duties", May::Lead, pages::duties)
        .post("/today/duties/{duty}/move", May::Lead, pages::move_one)
        .get("/today/people/{member}/not-in", May::Lead, pages::passed_on)
        .post("/today/people/{member}/not-in", May::Lead, pages::not_in)
        .post("/today/people/{member}/in", May::Lead, pages::in_after_all)
        .post("/today/racks/{rack}/assign", May::Lead, pages::assign_rack)
        .post("/today/duties/{duty}/assign", May::Lead, pages::assign_one)
        .post("/today/duties/{duty}/unassign", May::Lead, pages::unassign)
}
