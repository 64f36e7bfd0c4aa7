//! Handing over, cancelling, and the list of papers.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::{ShownPaper, Typed, again, shown_papers};
use crate::house::access::May;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::HandoverId;
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::rounds;
use crate::sales::model::{Handover, Item, Line};
use crate::sales::store::{self, Done};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct HandOverForm {
    version: String,
    override_reason: String,
    age_seen: String,
}

impl HandOverForm {
    /// The version of the list that was seen, and the reason.
    fn check(&self) -> Result<(i64, String), Mistakes> {
        let mut check = Check::new();
        let version = check.whole("version", &self.version, 1..=i64::MAX);
        let reason = check.paragraphs("override_reason", &self.override_reason, 600);
        match (version, reason) {
            (Some(version), Some(reason)) => Ok((version, reason)),
            _ => Err(check.mistakes()),
        }
    }
}

pub(in crate::sales) async fn hand_over(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<HandoverId>,
    form: Form<HandOverForm>,
) -> Answer {
    let answer = save(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { override_reason: form.input.override_reason, age_seen: form.input.age_seen, ..Typed::default() })
        .await
}

async fn save(app: &App, me: &SignedIn, id: HandoverId, form: &Form<HandOverForm>) -> Answer {
    let (version, reason) = form.input.check()?;
    if !reason.is_empty() && !May::Lead.allows(&me.member) {
        return Err(AppError::forbidden("Only a lead may let something go against the readiness check. Nothing was handed over."));
    }
    let mut write = app.begin(me.id(), &form.once).await?;
    let draft = store::require_draft(write.db(), id).await?;
    if draft.version != version {
        return Err(AppError::conflict("The list was changed since you opened it, so nothing was handed over. Look at it again first."));
    }
    if form.input.age_seen == "yes" {
        store::show_risk(&mut write, id).await?;
    }
    let lines = store::lines(write.db(), id).await?;
    let done = store::hand_over(&mut write, app, id, Some(reason.as_str()).filter(|reason| !reason.is_empty())).await?;
    for cohort in &done.cohorts {
        rounds::store::replan_cohort(&mut write, *cohort).await?;
    }
    let change = Change::new("handover.done", format!("handover {id}"), in_brief(&lines, &done)).from("draft");
    let papers = i64::try_from(done.papers.len()).unwrap_or(i64::MAX);
    let receipt = done.receipt.as_ref().map_or_else(String::new, |receipt| format!(" The receipt is {}.", receipt.number));
    let say = format!("Handed over. {} issued: print them now.{receipt}", text::count(&papers, "paper is", "papers are"));
    me.done(write, change, &paths::handover(&id), say).await
}

/// What left and what was issued, by numbers. The fingerprints stand in the trail too, so that a paper and its
/// fingerprint cannot both be exchanged unnoticed.
fn in_brief(lines: &[Line], done: &Done) -> String {
    let left = lines.iter().filter_map(|line| match line.item()? {
        Item::Animal(animal) => Some(format!("animal {animal}")),
        Item::Lot(lot) => Some(format!("{} of cohort {}, {}", lot.quantity, lot.cohort, lot.stage.code())),
    });
    let papers = done.papers.iter().chain(&done.receipt).map(|paper| format!("{} {}", paper.number, paper.fingerprint));
    let overridden = done.overridden.then(|| "against the readiness check, with a lead's reason".to_owned());
    left.chain(papers).chain(overridden).collect::<Vec<_>>().join("; ")
}

pub(in crate::sales) async fn cancel(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    store::cancel(&mut write, id).await?;
    let change = Change::new("handover.cancelled", format!("handover {id}"), "cancelled").from("draft");
    me.done(write, change, paths::SALES, "Cancelled. Nothing has left the house.").await
}

#[derive(Template)]
#[template(path = "sales/papers.html")]
struct PapersPage {
    layout: Layout,
    handover: Handover,
    papers: Vec<ShownPaper>,
}

pub(in crate::sales) async fn papers(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>) -> Answer {
    let mut db = app.read().await?;
    let handover = store::require_handover(&mut db, id).await?;
    let papers = shown_papers(&app, crate::papers::store::of_handover(&mut db, id).await?);
    page(&PapersPage { layout: Layout::of(&app, &me, Section::Sales).await?, handover, papers })
}
