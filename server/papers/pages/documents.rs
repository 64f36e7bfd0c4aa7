//! Putting a paper on file, and striking one out.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::provenance::Asked;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, CohortId, DocumentId};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::papers::model::{Document, DocumentKind, Kin, NewDocument};
use crate::papers::store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::papers) struct DocumentForm {
    animal: String,
    cohort: String,
    kind: String,
    number: String,
    issuer: String,
    dated_on: String,
    note: String,
}

impl DocumentForm {
    fn kin(&self) -> Result<Kin, AppError> {
        let animal = self.animal.parse().ok().map(AnimalId);
        store::asked(animal, self.cohort.parse().ok().map(CohortId))
    }

    fn check(&self, kin: Kin, today: NaiveDate) -> Result<NewDocument, Mistakes> {
        let mut check = Check::new();
        let kind = check.choice("kind", &self.kind);
        let number = check.optional_text("number", &self.number, 80);
        let issuer = check.text("issuer", &self.issuer, 120);
        let dated_on = check.day("dated_on", &self.dated_on, today);
        let note = check.optional_text("note", &self.note, 300);
        match (kind, number, issuer, dated_on, note) {
            (Some(kind), Some(number), Some(issuer), Some(dated_on), Some(note)) => {
                Ok(NewDocument { kin, kind, number, issuer, dated_on, note })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "papers/new_document.html")]
struct NewPage {
    layout: Layout,
    kin: Kin,
    name: String,
    kinds: Vec<Choice>,
    input: DocumentForm,
    mistakes: Mistakes,
}

impl NewPage {
    async fn of(app: &App, me: &SignedIn, kin: Kin, input: DocumentForm, mistakes: Mistakes) -> Result<Self, AppError> {
        Ok(Self {
            layout: Layout::of(app, me, Section::Animals).await?,
            name: name(app, kin).await?,
            kinds: choices(DocumentKind::ALL, DocumentKind::code),
            kin,
            input,
            mistakes,
        })
    }
}

/// What it is called on the page: the words of its chain.
async fn name(app: &App, kin: Kin) -> Result<String, AppError> {
    let provenance = store::provenance(&mut *app.read().await?, kin).await?;
    Ok(provenance.node(&kin.key()).map(|node| node.name.clone()).unwrap_or_default())
}

fn hidden(kin: Kin) -> DocumentForm {
    let (animal, cohort) = kin.ids();
    DocumentForm {
        animal: animal.map(|id| id.to_string()).unwrap_or_default(),
        cohort: cohort.map(|id| id.to_string()).unwrap_or_default(),
        kind: DocumentKind::Declaration.code().to_owned(),
        ..DocumentForm::default()
    }
}

pub(in crate::papers) async fn new(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let kin = store::asked(asked.animal, asked.cohort)?;
    page(&NewPage::of(&app, &me, kin, hidden(kin), Mistakes::none()).await?)
}

pub(in crate::papers) async fn add(State(app): State<App>, me: SignedIn, form: Form<DocumentForm>) -> Answer {
    let kin = form.input.kin()?;
    name(&app, kin).await?;
    match save(&app, &me, kin, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&NewPage::of(&app, &me, kin, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, kin: Kin, form: &Form<DocumentForm>) -> Answer {
    let new = form.input.check(kin, app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::add_document(&mut write, &new).await?;
    let what = format!("{}: {} {} of {}", kin.key(), new.kind, new.number, new.dated_on);
    me.done(write, Change::new("document.added", format!("document {id}"), what), &kin.provenance(), "The paper is on file.").await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::papers) struct StrikeForm {
    why: String,
}

#[derive(Template)]
#[template(path = "papers/strike_document.html")]
struct StrikePage {
    layout: Layout,
    kin: Kin,
    document: Document,
    input: StrikeForm,
    mistakes: Mistakes,
}

impl StrikePage {
    async fn of(app: &App, me: &SignedIn, id: DocumentId, input: StrikeForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let kin = store::document_kin(&mut db, id).await?;
        let document = store::documents_of(&mut db, kin).await?.into_iter().find(|document| document.id == id).ok_or(AppError::NotFound)?;
        Ok(Self { layout: Layout::of(app, me, Section::Animals).await?, kin, document, input, mistakes })
    }
}

pub(in crate::papers) async fn confirm(State(app): State<App>, me: SignedIn, Path(id): Path<DocumentId>) -> Answer {
    page(&StrikePage::of(&app, &me, id, StrikeForm::default(), Mistakes::none()).await?)
}

pub(in crate::papers) async fn strike(State(app): State<App>, me: SignedIn, Path(id): Path<DocumentId>, form: Form<StrikeForm>) -> Answer {
    match save_strike(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&StrikePage::of(&app, &me, id, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save_strike(app: &App, me: &SignedIn, id: DocumentId, form: &Form<StrikeForm>) -> Answer {
    let kin = store::document_kin(&mut *app.read().await?, id).await?;
    let mut check = Check::new();
    let why = check.text("why", &form.input.why, 300).ok_or_else(|| check.mistakes())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::strike_document(&mut write, id, &why).await?;
    let change = Change::new("document.struck", format!("document {id}"), why).from("on file");
    me.done(write, change, &kin.provenance(), "Struck out: it stays to be seen, and counts no more.").await
}
