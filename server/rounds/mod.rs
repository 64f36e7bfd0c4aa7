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
        .get("/round/paper", May::Keep, pages::paper)
        .get("/round/paper/enter", May::Keep, pages::enter)
        .post("/round/paper/enter", May::Keep, pages::save_entered)
        .get("/round/stops/{label}", May::Keep, pages::stops)
        .post("/round/duties/{duty}/take", May::Keep, pages::take)
        .post("/round/racks/{rack}/take", May::Keep, pages::take_rack)
        .get("/round/queue", May::Keep, pages::who)
        .post("/round/queue", May::Keep, pages::arrive)
        .get("/round/waiting", May::Keep, pages::waiting)
        .post("/round/waiting/{refusal}", May::Keep, pages::settle)
        .and(sign_off_routes())
        .and(due_routes())
        .and(day_routes())
        .and(prey_routes())
        .and(tablet_routes())
}

/// Signing off, and what else is found at a stop.
fn sign_off_routes() -> Routes {
    Routes::new()
        .get("/round/duties/{duty}", May::Keep, pages::show)
        .post("/round/duties/{duty}", May::Keep, pages::sign_quick)
        .post("/round/duties/{duty}/moult", May::Keep, pages::sign_moult)
        .post("/round/duties/{duty}/figures", May::Keep, pages::sign_group)
        .post("/round/duties/{duty}/count", May::Keep, pages::sign_count)
        .post("/round/duties/{duty}/readings", May::Keep, pages::sign_readings)
        .post("/round/duties/{duty}/legs-out", May::Keep, pages::legs_out)
        .post("/round/duties/{duty}/hands-in", May::Keep, pages::hands_in)
        .post("/round/duties/{duty}/found", May::Keep, pages::found)
        .post("/round/findings/{finding}/undo", May::Keep, pages::take_finding_back)
        .post("/round/findings/{finding}/dealt-with", May::Keep, pages::finding_dealt_with)
        .post("/round/sign-offs/{signoff}/undo", May::Keep, pages::undo)
        .get("/round/racks/{rack}/{kind}", May::Keep, pages::show_batch)
        .post("/round/racks/{rack}/{kind}", May::Keep, pages::sign_batch)
}

/// Why something is due or not, and rules set apart.
fn due_routes() -> Routes {
    Routes::new()
        .get("/animals/{animal}/due", May::Member, pages::due_of_animal)
        .get("/cohorts/{cohort}/due", May::Member, pages::due_of_cohort)
        .get("/breeding/sacs/{sac}/due", May::Member, pages::due_of_sac)
        .get("/animals/{animal}/apart", May::Keep, pages::apart_of_animal)
        .post("/animals/{animal}/apart", May::Lead, pages::set_apart_animal)
        .get("/cohorts/{cohort}/apart", May::Keep, pages::apart_of_cohort)
        .post("/cohorts/{cohort}/apart", May::Lead, pages::set_apart_cohort)
        .post("/apart/{apart}/end", May::Lead, pages::end_apart)
}

/// The lead's day.
fn day_routes() -> Routes {
    Routes::new()
        .get("/today", May::Lead, pages::today)
        .get("/today/ahead", May::Lead, pages::ahead::ahead)
        .get("/today/ahead.csv", May::Lead, pages::ahead::ahead_csv)
        .get("/today/ahead/{day}", May::Lead, pages::ahead::day)
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

/// Prey: its book, its kinds, what is needed.
fn prey_routes() -> Routes {
    Routes::new()
        .get("/today/prey", May::Keep, pages::prey::prey)
        .get("/today/prey.csv", May::Keep, pages::prey::prey_csv)
        .get("/today/prey/order.csv", May::Keep, pages::prey::order_csv)
        .get("/today/prey/enter", May::Keep, pages::prey::enter::enter)
        .post("/today/prey/enter", May::Keep, pages::prey::enter::save_line)
        .get("/today/prey/count", May::Keep, pages::prey::enter::count)
        .post("/today/prey/count", May::Keep, pages::prey::enter::save_count)
        .get("/today/prey/book/{kind}", May::Keep, pages::prey::book::show)
        .post("/today/prey/book/{kind}/lines/{line}/back", May::Keep, pages::prey::book::take_back)
        .get("/today/prey/kinds", May::Keep, pages::prey::kinds::list)
        .post("/today/prey/kinds", May::Lead, pages::prey::kinds::add)
        .post("/today/prey/kinds/usual", May::Lead, pages::prey::kinds::add_usual)
        .get("/today/prey/kinds/{kind}", May::Lead, pages::prey::kinds::edit)
        .post("/today/prey/kinds/{kind}", May::Lead, pages::prey::kinds::change)
        .get("/today/prey/rules", May::Lead, pages::prey::rules::show)
        .post("/today/prey/rules", May::Lead, pages::prey::rules::change)
        .get("/today/prey/usual/{subject}/{id}", May::Keep, pages::prey::usual::show)
        .post("/today/prey/usual/{subject}/{id}", May::Keep, pages::prey::usual::change)
}

/// What a room's tablet can do.
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
