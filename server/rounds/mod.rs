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
        .get("/round/queue", May::Keep, pages::who)
        .post("/round/queue", May::Keep, pages::arrive)
        .get("/round/waiting", May::Keep, pages::waiting)
        .post("/round/waiting/{refusal}", May::Keep, pages::settle)
        .and(tablet_routes())
        .get("/today", May::Lead, pages::today)
        .get("/today/prey", May::Keep, pages::prey)
        .get("/today/prey.csv", May::Keep, pages::prey_csv)
        .get("/today/share", May::Lead, pages::propose)
        .post("/today/share", May::Lead, pages::give_out)
        .post("/today/plan", May::Lead, pages::plan_again)
        .post("/today/racks/{rack}/assign", May::Lead, pages::assign_rack)
        .post("/today/duties/{duty}/assign", May::Lead, pages::assign_one)
        .post("/today/duties/{duty}/unassign", May::Lead, pages::unassign)
}

fn tablet_routes() -> Routes {
    Routes::new()
        .get("/tablet", May::Tablet, pages::tablet::room)
        .post("/tablet/theme", May::Tablet, pages::tablet::theme)
        .get("/tablet/duties/{duty}", May::Tablet, pages::tablet::show)
        .post("/tablet/duties/{duty}", May::Tablet, pages::tablet::sign_quick)
        .post("/tablet/duties/{duty}/moult", May::Tablet, pages::tablet::sign_moult)
        .post("/tablet/duties/{duty}/figures", May::Tablet, pages::tablet::sign_figures)
        .post("/tablet/duties/{duty}/count", May::Tablet, pages::tablet::sign_count)
        .post("/tablet/duties/{duty}/hands-in", May::Tablet, pages::tablet::sign_hands_in)
        .get("/tablet/shelves/{shelf}", May::Tablet, pages::tablet::show_shelf)
        .post("/tablet/shelves/{shelf}", May::Tablet, pages::tablet::sign_shelf)
        .post("/tablet/sign-offs/{signoff}/undo", May::Tablet, pages::tablet::undo)
}
