//! Striking out an entry that was wrong. It stays readable, with the reason.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::subject::{Subject, change, finish};
use crate::animals::model::timeline::{Entry, EntryKind};
use crate::animals::store;
use crate::house::access::May;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::text;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct CorrectForm {
    reason: String,
}

#[derive(Template)]
#[template(path = "animals/correct.html")]
struct CorrectPage {
    layout: Layout,
    subject: Subject,
    entry: Entry,
    input: CorrectForm,
    mistakes: Mistakes,
}

/// An entry's address: the animal, the kind, the entry.
type Address = (AnimalId, String, i64);

/// The entry, if this member may strike it out: a lead any, others their own.
async fn entry(app: &App, me: &SignedIn, address: &Address) -> Result<Entry, AppError> {
    let (animal, kind, id) = address;
    let kind: EntryKind = kind.parse().map_err(|_| AppError::NotFound)?;
    let mut db = app.read().await?;
    let entries = store::timeline(&mut db, *animal, app.site().zone).await?;
    let entry = entries.into_iter().find(|entry| entry.kind == kind && entry.id == *id).ok_or(AppError::NotFound)?;
    if !kind.can_be_struck() {
        return Err(AppError::NotFound);
    }
    if entry.member_id != Some(me.id()) && !May::Lead.allows(&me.member) {
        return Err(AppError::forbidden("You can strike out your own entries. Ask the lead for those of others."));
    }
    Ok(entry)
}

pub(in crate::animals) async fn correct(State(app): State<App>, me: SignedIn, Path(address): Path<Address>) -> Answer {
    let entry = entry(&app, &me, &address).await?;
    if let Some(struck) = &entry.struck {
        return Err(AppError::conflict(format!("This entry was {struck}.")));
    }
    let subject = Subject::load(&app, address.0).await?;
    let layout = Layout::of(&app, &me, Section::Animals).await?;
    page(&CorrectPage { layout, subject, entry, input: CorrectForm::default(), mistakes: Mistakes::none() })
}

pub(in crate::animals) async fn save_correction(
    State(app): State<App>,
    me: SignedIn,
    Path(address): Path<Address>,
    form: Form<CorrectForm>,
) -> Answer {
    let entry = entry(&app, &me, &address).await?;
    match strike(&app, &me, address.0, &entry, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let subject = Subject::load(&app, address.0).await?;
            let layout = Layout::of(&app, &me, Section::Animals).await?;
            page_again(&CorrectPage { layout, subject, entry, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn strike(app: &App, me: &SignedIn, animal: AnimalId, entry: &Entry, form: &Form<CorrectForm>) -> Answer {
    let mut check = Check::new();
    let Some(reason) = check.text("reason", &form.input.reason, 200) else {
        return Err(check.mistakes().into());
    };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::strike_entry(&mut write, animal, entry.kind, entry.id, &reason).await?;
    let change = change("animal.entry-struck-out", animal, reason).from(format!("{}: {}", text::day(&entry.day), entry.words));
    finish(me, write, animal, change, "The entry is struck out.").await
}
