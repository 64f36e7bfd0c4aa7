//! Handling: risk, who is cleared for what, incidents, and what to do in one.

pub mod model;
mod pages;
pub mod store;

use crate::house::access::{May, Routes};
use pages::{board, cautions, checklist, clearances, holds, incident, incidents, overview, plan, practice, safe_work, table, who_may};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    Routes::new()
        .get("/handling", May::Member, overview::show)
        .get("/handling/emergency", May::Member, overview::emergency)
        .get("/handling/board", May::Member, board::show)
        .get("/handling/board/{duty}/plan", May::Lead, plan::new)
        .post("/handling/board/{duty}/plan", May::Lead, plan::create)
        .get("/handling/board/{duty}/cancel", May::Lead, plan::confirm)
        .post("/handling/board/{duty}/cancel", May::Lead, plan::cancel)
        .get("/handling/checklist", May::Member, checklist::show)
        .post("/handling/checklist", May::Lead, checklist::add)
        .post("/handling/checklist/{line}/retire", May::Lead, checklist::retire)
        .get("/handling/who-may", May::Member, who_may::show)
        .get("/handling/safe-work", May::Member, safe_work::show)
        .post("/handling/safe-work/read", May::Member, safe_work::read)
        .get("/handling/safe-work/new", May::Lead, safe_work::new)
        .post("/handling/safe-work/new", May::Lead, safe_work::create)
        .get("/handling/practice", May::Member, practice::rules)
        .post("/handling/practice", May::Own, practice::set_rule)
        .get("/handling/people/{member}/assess", May::Keep, practice::new)
        .post("/handling/people/{member}/assess", May::Keep, practice::create)
        .get("/handling/assessments/{assessment}/strike", May::Lead, practice::confirm)
        .post("/handling/assessments/{assessment}/strike", May::Lead, practice::strike)
        .get("/handling/table", May::Member, table::show)
        .get("/handling/table/{band}/{exposure}", May::Lead, table::edit)
        .post("/handling/table/{band}/{exposure}", May::Lead, table::change)
        .get("/handling/people/{member}", May::Member, clearances::history)
        .get("/handling/people/{member}/grant", May::Keep, clearances::new)
        .post("/handling/people/{member}/grant", May::Keep, clearances::create)
        .get("/handling/clearances/{clearance}/withdraw", May::Lead, clearances::confirm)
        .post("/handling/clearances/{clearance}/withdraw", May::Lead, clearances::withdraw)
        .get("/handling/cautions", May::Member, cautions::list)
        .get("/handling/cautions/new", May::Keep, cautions::new)
        .post("/handling/cautions/new", May::Keep, cautions::create)
        .get("/handling/cautions/{caution}/end", May::Lead, cautions::confirm)
        .post("/handling/cautions/{caution}/end", May::Lead, cautions::end)
        .get("/handling/holds/new", May::Keep, holds::new)
        .post("/handling/holds/new", May::Keep, holds::create)
        .get("/handling/holds/{hold}/lift", May::Lead, holds::confirm)
        .post("/handling/holds/{hold}/lift", May::Lead, holds::lift)
        .get("/handling/incidents", May::Member, incidents::list)
        .get("/handling/incidents/new", May::Member, incidents::new)
        .post("/handling/incidents/new", May::Member, incidents::create)
        .get("/handling/incidents/{incident}", May::Member, incident::show)
        .post("/handling/incidents/{incident}/notes", May::Member, incident::add_note)
        .post("/handling/incidents/{incident}/review", May::Lead, incident::review)
}
