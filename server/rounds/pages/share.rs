//! Sharing the work out: a keeper takes free duties, a lead gives them to people; always within clearance.

use axum::extract::State;
use serde::Deserialize;

use super::next::NoFields;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form};
use crate::house::ids::{DutyId, MemberId, RackId};
use crate::house::paths;
use crate::house::write::Write;
use crate::rounds::model::{LeftOut, Shared};
use crate::rounds::store;
use crate::staff;

/// Rack 0 stands for what has no place.
fn rack_or_none(rack: RackId) -> Option<RackId> {
    (rack.0 != 0).then_some(rack)
}

pub(in crate::rounds) async fn take_rack(State(app): State<App>, me: SignedIn, Path(rack): Path<RackId>, form: Form<NoFields>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let shared = store::assign_rack(&mut write, rack_or_none(rack), me.id(), false).await?;
    told(&me, write, (rack, &me.member.name), &shared, paths::ROUND).await
}

pub(in crate::rounds) async fn take(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<NoFields>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let duty = store::require(write.db(), id).await?;
    if let Some(name) = duty.assigned_name.filter(|_| duty.assigned_to != Some(me.id())) {
        return Err(AppError::Conflict(format!("{} has this duty already. Ask the lead if it should be yours.", name)));
    }
    let duty = store::assign(&mut write, id, me.id()).await?;
    let change = Change::new("duty.taken", format!("duty {id}"), format!("{}: {}", duty.name(), me.member.name));
    me.done(write, change, &format!("{}#duty-{id}", paths::ROUND), format!("{} is yours.", duty.name())).await
}

/// Whom to give something to.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct ToForm {
    member: String,
    from_others: String,
}

impl ToForm {
    fn member(&self) -> Result<MemberId, AppError> {
        let mut check = Check::new();
        check.choice("member", &self.member).ok_or_else(|| AppError::Refused(check.mistakes()))
    }
}

pub(in crate::rounds) async fn assign_rack(State(app): State<App>, me: SignedIn, Path(rack): Path<RackId>, form: Form<ToForm>) -> Answer {
    let member = form.input.member()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let shared = store::assign_rack(&mut write, rack_or_none(rack), member, form.input.from_others == "yes").await?;
    let name = staff::store::require(write.db(), member).await?.name;
    told(&me, write, (rack, &name), &shared, paths::TODAY).await
}

/// Says what somebody has been given and what not, and why.
async fn told(me: &SignedIn, write: Write, (rack, name): (RackId, &str), shared: &Shared, back: &str) -> Answer {
    let left = left_out(&shared.left_out);
    if shared.given == 0 {
        let why = if left.is_empty() { "Nothing is free there.".to_owned() } else { left };
        me.visit.flash(format!("{name} has been given nothing. {why}"), true).await?;
        return Ok(redirect(back));
    }
    let duties = crate::house::text::count(&i64::try_from(shared.given).unwrap_or(i64::MAX), "duty", "duties");
    let change = Change::new("rack.assigned", format!("rack {rack}"), format!("{name}: {duties}"));
    write.commit(change, back).await?;
    me.visit.flash(format!("{name} has {duties} more."), false).await?;
    if !left.is_empty() {
        me.visit.flash(left, true).await?;
    }
    Ok(redirect(back))
}

/// At most ten, so that the message stays readable.
fn left_out(left: &[LeftOut]) -> String {
    let named: Vec<&str> = left.iter().take(10).map(|duty| duty.why.as_str()).collect();
    match left.len().saturating_sub(named.len()) {
        _ if left.is_empty() => String::new(),
        0 => format!("Left out: {}", named.join(" ")),
        more => format!("Left out: {} And {more} more.", named.join(" ")),
    }
}

pub(in crate::rounds) async fn assign_one(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<ToForm>) -> Answer {
    let member = form.input.member()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let before = store::require(write.db(), id).await?.assigned_name.unwrap_or_else(|| "nobody".to_owned());
    let duty = store::assign(&mut write, id, member).await?;
    let name = staff::store::require(write.db(), member).await?.name;
    let change = Change::new("duty.assigned", format!("duty {id}"), format!("{}: {name}", duty.name())).from(before);
    me.done(write, change, paths::TODAY, format!("{} has {}.", name, duty.name())).await
}

pub(in crate::rounds) async fn unassign(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<NoFields>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let duty = store::unassign(&mut write, id).await?;
    let before = duty.assigned_name.clone().unwrap_or_else(|| "nobody".to_owned());
    let change = Change::new("duty.unassigned", format!("duty {id}"), format!("{}: nobody", duty.name())).from(before);
    me.done(write, change, paths::TODAY, format!("{} is free again.", duty.name())).await
}

pub(in crate::rounds) async fn plan_again(State(app): State<App>, me: SignedIn, form: Form<NoFields>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let new_day = store::planned_on(write.db()).await? != Some(write.today);
    let planned = store::plan_house(&mut write).await?;
    if planned.is_nothing() && !new_day {
        me.visit.flash("The day stands as it was planned: nothing has changed.", false).await?;
        return Ok(redirect(paths::TODAY));
    }
    let change = Change::new("day.planned", format!("day {}", app.today()), planned.to_string());
    me.done(write, change, paths::TODAY, format!("Planned again: {planned}.")).await
}
