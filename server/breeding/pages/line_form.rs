//! Naming a line, and changing what is written of it.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use crate::breeding::model::lines::{LineRow, NewLine};
use crate::breeding::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{SpeciesId, StrainId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::species;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct LineForm {
    species: String,
    name: String,
    note: String,
    founded_on: String,
    version: String,
}

impl LineForm {
    fn check(&self, today: NaiveDate, species: Option<SpeciesId>) -> Result<NewLine, Mistakes> {
        let mut check = Check::new();
        let species = species.or_else(|| check.choice("species", &self.species));
        let name = check.text("name", &self.name, 60);
        let note = check.paragraphs("note", &self.note, 600);
        let founded_on = check.day("founded_on", &self.founded_on, today);
        match (species, name, note, founded_on) {
            (Some(species), Some(name), Some(note), Some(founded_on)) => Ok(NewLine { species, name, note, founded_on }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "breeding/line_form.html")]
struct FormPage {
    layout: Layout,
    /// The line that is changed; nothing for a new one.
    line: Option<LineRow>,
    species: Vec<Choice>,
    input: LineForm,
    mistakes: Mistakes,
}

impl FormPage {
    async fn of(app: &App, me: &SignedIn, line: Option<LineRow>, input: LineForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let all = species::store::all(&mut *app.read().await?).await?;
        let first = Choice::new("", "choose the species");
        Ok(Self {
            species: std::iter::once(first).chain(all.into_iter().map(|one| Choice::new(one.id, one.accepted_name))).collect(),
            layout: Layout::of(app, me, Section::Breeding).await?,
            line,
            input,
            mistakes,
        })
    }
}

pub(in crate::breeding) async fn new_line(State(app): State<App>, me: SignedIn) -> Answer {
    let input = LineForm { founded_on: app.today().to_string(), ..LineForm::default() };
    page(&FormPage::of(&app, &me, None, input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn create_line(State(app): State<App>, me: SignedIn, form: Form<LineForm>) -> Answer {
    match create(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&FormPage::of(&app, &me, None, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn create(app: &App, me: &SignedIn, form: &Form<LineForm>) -> Answer {
    let new = form.input.check(app.today(), None)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::insert_line(&mut write, &new).await?;
    let say = format!("The line {} is in the book. Now say who is of it, on the page of each animal or cohort.", new.name);
    me.done(write, Change::new("line.named", format!("line {id}"), new.name.as_str()), &paths::line(&id), say).await
}

pub(in crate::breeding) async fn edit_line(State(app): State<App>, me: SignedIn, Path(id): Path<StrainId>) -> Answer {
    let line = store::require_line(&mut *app.read().await?, id).await?;
    let input = LineForm {
        species: line.species_id.to_string(),
        name: line.name.clone(),
        note: line.note.clone(),
        founded_on: line.founded_on.to_string(),
        version: line.version.to_string(),
    };
    page(&FormPage::of(&app, &me, Some(line), input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn save_line(State(app): State<App>, me: SignedIn, Path(id): Path<StrainId>, form: Form<LineForm>) -> Answer {
    let line = store::require_line(&mut *app.read().await?, id).await?;
    match change(&app, &me, &line, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&FormPage::of(&app, &me, Some(line), form.input, mistakes).await?),
        answer => answer,
    }
}

async fn change(app: &App, me: &SignedIn, line: &LineRow, form: &Form<LineForm>) -> Answer {
    let new = form.input.check(app.today(), Some(line.species_id))?;
    let version = form.input.version.trim().parse().map_err(|_| AppError::refused("", "Open the page again: it has lost its place."))?;
    let mut write = app.begin(me.id(), &form.once).await?;
    if !store::change_line(&mut write, line.id, version, &new).await? {
        return Err(AppError::conflict("Somebody changed this line since you opened the page. Open it again and enter the change there."));
    }
    let change = Change::new("line.changed", format!("line {}", line.id), new.name.as_str()).from(line.name.as_str());
    me.done(write, change, &paths::line(&line.id), format!("The line {} is changed.", new.name)).await
}
