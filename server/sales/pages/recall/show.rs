//! A recall's page: what it found, who has it, the letters, and who was reached.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{BuyerId, RecallId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::sales::model::recall::{Concerned, ContactKind, Fate, Found, Recall};
use crate::sales::store;

#[derive(Template)]
#[template(path = "sales/recall/show.html")]
struct ShowPage {
    layout: Layout,
    recall: Recall,
    concerned: Vec<Concerned>,
    /// Sold, and nobody knows to whom.
    untraced: Vec<Found>,
    here: Vec<Found>,
    gone: Vec<Found>,
    /// How many buyers may still be written to.
    unwritten: i64,
    zone: Tz,
    /// For whom an outcome was typed that could not be saved, and what was typed.
    typed: Option<(BuyerId, String)>,
    mistakes: Mistakes,
}

impl ShowPage {
    async fn of(app: &App, me: &SignedIn, id: RecallId, typed: Option<(BuyerId, String)>, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let recall = store::recall::require(&mut db, id).await?;
        let found = store::recall::found(&mut db, id).await?;
        let concerned = store::recall::concerned(&mut db, id).await?;
        let some = |wanted: fn(&Found) -> bool| found.iter().filter(|one| wanted(one)).cloned().collect();
        let unwritten = concerned.iter().filter(|one| !one.buyer.is_erased() && one.letter().is_none()).count();
        Ok(Self {
            layout: Layout::of(app, me, Section::Sales).await?,
            untraced: some(|one| one.fate == Fate::Sold && one.buyer_id.is_none()),
            here: some(|one| one.fate == Fate::Here),
            gone: some(|one| matches!(one.fate, Fate::Dead | Fate::Escaped)),
            unwritten: i64::try_from(unwritten).unwrap_or(i64::MAX),
            zone: app.site().zone,
            recall,
            concerned,
            typed,
            mistakes,
        })
    }

    /// Whether anybody may still be written to.
    fn has_unwritten(&self) -> bool {
        self.unwritten > 0
    }

    /// What was typed for a buyer.
    fn note_of(&self, buyer: &BuyerId) -> &str {
        self.typed.as_ref().filter(|(typed_for, _)| typed_for == buyer).map_or("", |(_, note)| note)
    }

    /// What is wrong with what was typed for a buyer.
    fn mistake_of(&self, buyer: &BuyerId) -> String {
        let theirs = self.typed.as_ref().is_some_and(|(typed_for, _)| typed_for == buyer);
        if theirs { self.mistakes.of("note") } else { String::new() }
    }
}

pub(in crate::sales) async fn show_recall(State(app): State<App>, me: SignedIn, Path(id): Path<RecallId>) -> Answer {
    page(&ShowPage::of(&app, &me, id, None, Mistakes::none()).await?)
}

pub(in crate::sales) async fn write_letters(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<RecallId>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let letters = store::recall::write_letters(&mut write, &app, id).await?;
    if letters.is_empty() {
        return Err(AppError::conflict("Every buyer of this recall who can be written to has a letter already."));
    }
    let numbers: Vec<String> = letters.iter().map(|letter| format!("{} {}", letter.number, letter.fingerprint)).collect();
    let count = i64::try_from(letters.len()).unwrap_or(i64::MAX);
    let change = Change::new("recall.letters-written", format!("recall {id}"), numbers.join("; "));
    let say = format!("{} issued: print and send them.", text::count(&count, "letter is", "letters are"));
    me.done(write, change, &paths::recall(&id), say).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct OutcomeForm {
    what: String,
    note: String,
}

pub(in crate::sales) async fn note_outcome(
    State(app): State<App>,
    me: SignedIn,
    Path((id, buyer)): Path<(RecallId, BuyerId)>,
    form: Form<OutcomeForm>,
) -> Answer {
    match save(&app, &me, id, buyer, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ShowPage::of(&app, &me, id, Some((buyer, form.input.note)), mistakes).await?),
        answer => answer,
    }
}

/// The note may tell of the person, so the audit trail has the outcome alone.
async fn save(app: &App, me: &SignedIn, id: RecallId, buyer: BuyerId, form: &Form<OutcomeForm>) -> Answer {
    let mut check = Check::new();
    let what = check.choice::<ContactKind>("what", &form.input.what).filter(|what| *what != ContactKind::Letter);
    if what.is_none() && check.ok() {
        check.add("what", "Choose one of the list.");
    }
    let note = check.paragraphs("note", &form.input.note, 600);
    let (Some(what), Some(note)) = (what, note) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::recall::require(write.db(), id).await?;
    if store::require_buyer(write.db(), buyer).await?.is_erased() {
        return Err(AppError::conflict("This buyer was erased: nothing more is noted of them."));
    }
    store::recall::note_contact(&mut write, id, buyer, what, None, &note).await?;
    let change = Change::new("recall.outcome", format!("recall {id}"), format!("buyer {buyer}: {}", what.code()));
    me.done(write, change, &paths::recall(&id), format!("Noted: {what}.")).await
}
