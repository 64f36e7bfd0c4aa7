//! What waited for the wireless and could not be written when it arrived: listed until a person has settled it.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;
use serde::Deserialize;

use crate::house::access::May;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::clock::local_date;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{MemberId, RefusalId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::rounds::model::arrival::{Refusal, Settled};
use crate::rounds::store;

/// What was typed for one of them.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct SettleForm {
    how: String,
    note: String,
}

impl SettleForm {
    fn check(&self) -> Result<(Settled, String), Mistakes> {
        let mut check = Check::new();
        let how: Option<Settled> = check.choice("how", &self.how);
        let note = check.optional_text("note", &self.note, 400);
        if how == Some(Settled::Noted) && note.as_deref() == Some("") {
            check.add("note", "Write what happened, or choose “Nothing to add”.");
        }
        match (how, note) {
            (Some(Settled::Nothing), Some(_)) if check.ok() => Ok((Settled::Nothing, String::new())),
            (Some(how), Some(note)) if check.ok() => Ok((how, note)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "rounds/waiting.html")]
struct WaitingPage {
    layout: Layout,
    refusals: Vec<Refusal>,
    zone: Tz,
    typed: Option<(RefusalId, SettleForm)>,
    mistakes: Mistakes,
}

impl WaitingPage {
    async fn build(app: &App, me: &SignedIn, typed: Option<(RefusalId, SettleForm)>, mistakes: Mistakes) -> Result<Self, AppError> {
        let refusals = store::queue::unsettled(&mut *app.read().await?, whose(me)).await?;
        Ok(Self { layout: Layout::of(app, me, Section::Round).await?, refusals, zone: app.site().zone, typed, mistakes })
    }

    /// `15 Apr 2026, 21:14 (reached the book 21:40)`.
    fn when(&self, refusal: &Refusal) -> String {
        let day = text::day(&local_date(self.zone, refusal.made_at));
        format!("{day}, {}", text::heard(&Some(refusal.made_at), &refusal.arrived_at, &self.zone))
    }

    fn note(&self, id: &RefusalId) -> &str {
        self.typed.as_ref().filter(|(of, _)| of == id).map_or("", |(_, form)| form.note.as_str())
    }

    fn fault(&self, id: &RefusalId) -> String {
        let here = self.typed.as_ref().is_some_and(|(of, _)| of == id);
        if here { self.mistakes.of("note") + &self.mistakes.of("how") } else { String::new() }
    }
}

/// A lead settles anybody's.
fn whose(me: &SignedIn) -> Option<MemberId> {
    if May::Lead.allows(&me.member) { None } else { Some(me.id()) }
}

pub(in crate::rounds) async fn waiting(State(app): State<App>, me: SignedIn) -> Answer {
    page(&WaitingPage::build(&app, &me, None, Mistakes::none()).await?)
}

pub(in crate::rounds) async fn settle(State(app): State<App>, me: SignedIn, Path(id): Path<RefusalId>, form: Form<SettleForm>) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&WaitingPage::build(&app, &me, Some((id, form.input)), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: RefusalId, form: &Form<SettleForm>) -> Answer {
    let refusal = store::queue::require(&mut *app.read().await?, id).await?;
    if whose(me).is_some_and(|own| own != refusal.member_id) {
        return Err(AppError::forbidden(format!("Only {}, who made it, or a lead can settle this.", refusal.member_name)));
    }
    let (how, note) = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::queue::settle(&mut write, id, how, &note).await?;
    // A note stands on the animal's own timeline, which shows what was noted of it.
    let change = match (how, refusal.animal_id) {
        (Settled::Noted, Some(animal)) => {
            let made = text::instant(&refusal.made_at, &write.zone);
            let after = format!("{note} ({} by {}, made {made}, was not written)", refusal.label, refusal.member_name);
            Change::new("animal.noted", format!("animal {animal}"), after)
        }
        _ => Change::new("queue.settled", format!("refusal {id}"), if note.is_empty() { how.to_string() } else { note }),
    };
    me.done(write, change, paths::WAITING, format!("{} is settled.", refusal.label)).await
}
