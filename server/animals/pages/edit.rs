//! The note and the locality, and that an animal needs another box whatever its size.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::subject::{Subject, change, finish};
use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};

coded_enum! {
    /// Why an animal needs another box whatever its size.
    Need, "reason to rehouse" {
        Mould = "mould", "mould";
        Mites = "mites", "mites";
        NoLonger = "none", "no longer needed";
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct EditForm {
    locality: String,
    note: String,
    version: String,
}

impl EditForm {
    fn check(&self) -> Result<(String, String, i64), Mistakes> {
        let mut check = Check::new();
        let locality = check.optional_text("locality", &self.locality, 120);
        let note = check.paragraphs("note", &self.note, 2000);
        let version = check.whole("version", &self.version, 1..=i64::MAX);
        match (locality, note, version) {
            (Some(locality), Some(note), Some(version)) => Ok((locality, note, version)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "animals/edit.html")]
struct EditPage {
    layout: Layout,
    subject: Subject,
    input: EditForm,
    mistakes: Mistakes,
}

impl EditPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, mut input: EditForm, mistakes: Mistakes) -> Result<Self, AppError> {
        input.version = subject.animal.version.to_string();
        Ok(Self { layout: Layout::of(app, me, Section::Animals).await?, subject, input, mistakes })
    }
}

pub(in crate::animals) async fn edit(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    let (locality, note) = (subject.animal.locality.clone(), subject.animal.note.clone());
    let input = EditForm { locality, note, version: String::new() };
    page(&EditPage::build(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_edit(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>, form: Form<EditForm>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match note(&app, &me, &subject, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&EditPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn note(app: &App, me: &SignedIn, subject: &Subject, form: &Form<EditForm>) -> Answer {
    let (locality, note, version) = form.input.check()?;
    let animal = &subject.animal;
    let mut write = app.begin(me.id(), &form.once).await?;
    if !store::change_note(&mut write, animal.id, version, &locality, &note).await? {
        let mut mistakes = Mistakes::none();
        let line = |what: &str, now: &str, yours: &str| format!("Changed meanwhile. The {what} now reads “{now}”; yours is “{yours}”.");
        mistakes.add("locality", line("locality", &animal.locality, &locality));
        mistakes.add("note", format!("{} Send it again if yours should stand.", line("note", &animal.note, &note)));
        return Err(mistakes.into());
    }
    let words = |locality: &str, note: &str| format!("Locality “{locality}”, note “{note}”");
    let change = change("animal.noted", animal.id, words(&locality, &note)).from(words(&animal.locality, &animal.note));
    finish(me, write, animal.id, change, "The note is saved.").await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct NeedForm {
    need: String,
    detail: String,
    version: String,
}

impl NeedForm {
    /// The reason in words, empty for none, and the version of the page.
    fn check(&self) -> Result<(String, i64), Mistakes> {
        let mut check = Check::new();
        let need = check.choice::<Need>("need", &self.need);
        let detail = check.optional_text("detail", &self.detail, 120);
        let version = check.whole("version", &self.version, 1..=i64::MAX);
        match (need, detail, version) {
            (Some(Need::NoLonger), Some(_), Some(version)) => Ok((String::new(), version)),
            (Some(need), Some(detail), Some(version)) if detail.is_empty() => Ok((need.to_string(), version)),
            (Some(need), Some(detail), Some(version)) => Ok((format!("{need}: {detail}"), version)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "animals/needs_rehouse.html")]
struct NeedPage {
    layout: Layout,
    subject: Subject,
    input: NeedForm,
    mistakes: Mistakes,
    needs: Vec<Choice>,
}

impl NeedPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, mut input: NeedForm, mistakes: Mistakes) -> Result<Self, AppError> {
        input.version = subject.animal.version.to_string();
        let layout = Layout::of(app, me, Section::Animals).await?;
        Ok(Self { layout, subject, input, mistakes, needs: choices(Need::ALL, Need::code) })
    }
}

pub(in crate::animals) async fn needs_rehouse(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::living(&app, id).await?;
    page(&NeedPage::build(&app, &me, subject, NeedForm::default(), Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_needs_rehouse(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<NeedForm>,
) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match need(&app, &me, &subject, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&NeedPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn need(app: &App, me: &SignedIn, subject: &Subject, form: &Form<NeedForm>) -> Answer {
    let (reason, version) = form.input.check()?;
    let animal = &subject.animal;
    let mut write = app.begin(me.id(), &form.once).await?;
    if !store::needs_rehouse(&mut write, animal.id, version, &reason).await? {
        let now = if animal.rehouse_note.is_empty() { "nothing" } else { animal.rehouse_note.as_str() };
        let yours = if reason.is_empty() { "nothing" } else { reason.as_str() };
        let status = animal.status;
        return Err(AppError::refused(
            "need",
            format!(
                "Changed meanwhile. The animal is {status} and the note now reads “{now}”; yours is “{yours}”. Send it again if yours should stand."
            ),
        ));
    }
    let words = if reason.is_empty() { "Need of another box taken back".to_owned() } else { format!("Needs another box: {reason}") };
    let change = change("animal.needs-rehouse", animal.id, words.clone()).from(animal.rehouse_note.clone());
    finish(me, write, animal.id, change, format!("{words}.")).await
}
