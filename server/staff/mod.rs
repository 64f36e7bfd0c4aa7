//! Staff: who works here, how they get in, and what the house is called.

mod device;
mod kept;
pub mod model;
mod pages;
pub mod passphrase;
pub mod setup;
pub mod store;

pub use kept::keep_typed;

use crate::house::access::{May, Routes};

/// The routes of this room.
#[must_use]
pub fn routes() -> Routes {
    own_routes()
        .get("/sign-in", May::Anybody, pages::sign_in::show)
        .post("/sign-in", May::Anybody, pages::sign_in::sign_in)
        .post("/sign-out", May::Member, pages::sign_in::sign_out)
        .get("/setup/{token}", May::Anybody, pages::setup::show)
        .post("/setup/{token}", May::Anybody, pages::setup::create)
        .get("/welcome/{token}", May::Anybody, pages::welcome::show)
        .post("/welcome/{token}", May::Anybody, pages::welcome::join)
        .get("/renew/{token}", May::Anybody, pages::renew::show)
        .post("/renew/{token}", May::Anybody, pages::renew::renew)
        .get("/staff/rota", May::Member, pages::rota::show)
        .get("/staff/members/{member}/hours", May::Lead, pages::hours::show)
        .post("/staff/members/{member}/hours", May::Lead, pages::hours::set_week)
        .post("/staff/members/{member}/absences", May::Lead, pages::absences::add)
        .post("/staff/absences/{absence}/cancel", May::Lead, pages::absences::cancel)
        .get("/account", May::Member, pages::account::show)
        .get("/account/pass-phrase", May::Member, pages::account::new_phrase)
        .post("/account/pass-phrase", May::Member, pages::account::change_phrase)
        .get("/account/pin", May::Member, pages::account::new_pin)
        .post("/account/pin", May::Member, pages::account::set_pin)
        .post("/account/sign-out-everywhere", May::Member, pages::account::sign_out_everywhere)
        .post("/theme", May::Member, pages::account::theme)
}

fn own_routes() -> Routes {
    Routes::new()
        .get("/staff", May::Own, pages::members::list)
        .get("/staff/invite", May::Own, pages::invite::show)
        .post("/staff/invite", May::Own, pages::invite::invite)
        .post("/staff/links/{link}/revoke", May::Own, pages::invite::revoke)
        .get("/staff/site", May::Own, pages::settings::show)
        .post("/staff/site", May::Own, pages::settings::save)
        .get("/staff/{member}", May::Own, pages::members::member)
        .post("/staff/{member}/roles", May::Own, pages::members::set_roles)
        .post("/staff/{member}/disable", May::Own, pages::members::disable)
        .post("/staff/{member}/enable", May::Own, pages::members::enable)
        .post("/staff/{member}/end-sessions", May::Own, pages::members::end_sessions)
        .post("/staff/{member}/reset-link", May::Own, pages::invite::reset_link)
}
