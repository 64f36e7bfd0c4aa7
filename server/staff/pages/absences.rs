//! Days on which somebody is away: noted and cancelled by the lead.

use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::hours::{draw, earliest_absence, keeper};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{AbsenceId, MemberId};
use crate::house::layout::page_again;
use crate::house::paths;
use crate::staff::model::rota::{LONGEST_ABSENCE, NewAbsence};
use crate::staff::store::{self, rota};

/// An absence as typed. Without a last day it is one day.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct AbsenceForm {
    pub(super) first_day: String,
    pub(super) last_day: String,
    pub(super) kind: String,
    pub(super) note: String,
}

impl AbsenceForm {
    fn check(&self, member: MemberId, today: NaiveDate) -> Result<NewAbsence, Mistakes> {
        let mut check = Check::new();
        let earliest = earliest_absence(today);
        let first_day = check.coming_day("first_day", &self.first_day, earliest);
        let typed = if self.last_day.trim().is_empty() { &self.first_day } else { &self.last_day };
        let read = NaiveDate::parse_from_str(typed.trim(), "%Y-%m-%d").ok();
        let last_day = match (first_day, read) {
            (Some(first), Some(last)) if last < first => {
                check.add("last_day", "The last day is before the first. Change one of them.");
                None
            }
            (Some(first), Some(last)) if (last - first).num_days() >= LONGEST_ABSENCE => {
                let days = (last - first).num_days() + 1;
                check.add(
                    "last_day",
                    format!("This is {days} days. An absence lasts at most {LONGEST_ABSENCE}; enter a second one after it."),
                );
                None
            }
            (_, None) if !self.last_day.trim().is_empty() => {
                check.add("last_day", "Enter a day as year-month-day, such as 2026-03-29, or nothing for a single day.");
                None
            }
            (_, last) => last,
        };
        let kind = check.choice("kind", &self.kind);
        let note = check.optional_text("note", &self.note, 200);
        match (first_day, last_day, kind, note) {
            (Some(first_day), Some(last_day), Some(kind), Some(note)) => Ok(NewAbsence { member, first_day, last_day, kind, note }),
            _ => Err(check.mistakes()),
        }
    }
}

pub(in crate::staff) async fn add(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>, form: Form<AbsenceForm>) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&draw(&app, &me, id, None, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: MemberId, form: &Form<AbsenceForm>) -> Answer {
    let new = form.input.check(id, app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let member = keeper(write.db(), id).await?;
    let absence = rota::add_absence(&mut write, &new).await?;
    let today = write.today;
    let change = Change::new("absence.noted", format!("absence {absence}"), format!("{}: {}, {}", member.name, new.kind, new.days()));
    let duties =
        if (new.first_day..=new.last_day).contains(&today) { " What is theirs today stays so until you pass it on, on Today." } else { "" };
    me.done(write, change, &paths::hours(&id), format!("{} is {}, {}.{duties}", member.name, new.kind, new.days())).await
}

pub(in crate::staff) async fn cancel(State(app): State<App>, me: SignedIn, Path(id): Path<AbsenceId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let absence = rota::require_absence(write.db(), id).await?;
    let name = store::require(write.db(), absence.member_id).await?.name;
    rota::cancel_absence(&mut write, id).await?;
    let what = NewAbsence {
        member: absence.member_id,
        first_day: absence.first_day,
        last_day: absence.last_day,
        kind: absence.kind,
        note: absence.note,
    };
    let words = format!("{name}: {}, {}", what.kind, what.days());
    let change = Change::new("absence.cancelled", format!("absence {id}"), "cancelled").from(words.as_str());
    me.done(write, change, &paths::hours(&absence.member_id), format!("Cancelled: {words}.")).await
}
