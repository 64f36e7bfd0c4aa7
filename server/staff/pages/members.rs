//! The owners' list of members, and one member.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form};
use crate::house::ids::MemberId;
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::house::session::end_all;
use crate::staff::model::{LinkRow, MemberRow, Roles, SessionRow};
use crate::staff::store;
use crate::staff::store::{links, sessions};

#[derive(Template)]
#[template(path = "staff/list.html")]
struct ListPage {
    layout: Layout,
    members: Vec<MemberRow>,
    invitations: Vec<LinkRow>,
    zone: Tz,
}

pub(in crate::staff) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let members = store::all(&mut db).await?;
    let invitations = links::open_invitations(&mut db, app.now()).await?;
    page(&ListPage { layout: Layout::of(&app, &me, Section::Staff).await?, members, invitations, zone: app.site().zone })
}

#[derive(Template)]
#[template(path = "staff/member.html")]
struct MemberPage {
    layout: Layout,
    member: MemberRow,
    sessions: Vec<SessionRow>,
    zone: Tz,
}

impl MemberPage {
    /// What the form for roles shows ticked.
    fn ticked(&self, has: &bool) -> &'static str {
        if *has { "yes" } else { "" }
    }
}

pub(in crate::staff) async fn member(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>) -> Answer {
    let mut db = app.read().await?;
    let member = store::require(&mut db, id).await?;
    let sessions = sessions::of_member(&mut db, id, app.now()).await?;
    page(&MemberPage { layout: Layout::of(&app, &me, Section::Staff).await?, member, sessions, zone: app.site().zone })
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct RolesForm {
    owner: String,
    lead: String,
    keeper: String,
    counter: String,
    version: String,
}

pub(in crate::staff) async fn set_roles(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>, form: Form<RolesForm>) -> Answer {
    let version = read_version(&form.input.version)?;
    let ticked = |box_: &str| box_ == "yes";
    let input = &form.input;
    let roles =
        Roles { owner: ticked(&input.owner), lead: ticked(&input.lead), keeper: ticked(&input.keeper), counter: ticked(&input.counter) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let member = store::require(write.db(), id).await?;
    store::set_roles(&mut write, id, version, roles).await?;
    let change = Change::new("member.roles_changed", format!("member {id}"), roles.words()).from(member.roles.words());
    // Somebody who gave up being an owner can't see the list any more.
    let there = if id == me.id() && !roles.owner { paths::HOME.to_owned() } else { paths::member(&id) };
    me.done(write, change, &there, format!("{} now has: {}.", member.name, roles.words())).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct VersionForm {
    version: String,
}

pub(in crate::staff) async fn disable(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>, form: Form<VersionForm>) -> Answer {
    let version = read_version(&form.input.version)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let member = store::require(write.db(), id).await?;
    store::disable(&mut write, id, version).await?;
    let change = Change::new("member.disabled", format!("member {id}"), "may not sign in").from("may sign in");
    if id == me.id() {
        write.commit(change, paths::SIGN_IN).await?;
        return super::sign_in::leave(&me.visit).await;
    }
    me.done(write, change, &paths::member(&id), format!("{} is signed out everywhere and can't sign in.", member.name)).await
}

pub(in crate::staff) async fn enable(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>, form: Form<VersionForm>) -> Answer {
    let version = read_version(&form.input.version)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let member = store::require(write.db(), id).await?;
    store::enable(&mut write, id, version).await?;
    let change = Change::new("member.enabled", format!("member {id}"), "may sign in").from("may not sign in");
    me.done(write, change, &paths::member(&id), format!("{} can sign in again.", member.name)).await
}

pub(in crate::staff) async fn end_sessions(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<MemberId>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let member = store::require(write.db(), id).await?;
    let own = me.visit.id_hash();
    let ended = end_all(write.db(), id, Some(own.as_str())).await?;
    let change = Change::new("member.signed_out", format!("member {id}"), format!("{ended} sign-ins ended"));
    me.done(write, change, &paths::member(&id), format!("{} sign-ins of {} have ended.", ended, member.name)).await
}

/// The version that the page showed, which its form carries.
fn read_version(typed: &str) -> Result<i64, AppError> {
    let version = Check::new().whole("version", typed, 1..=i64::MAX);
    version.ok_or_else(|| AppError::refused("version", "This form is incomplete. Open the page again and send it from there."))
}
