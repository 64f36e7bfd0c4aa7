//! Saying of which line an animal or a cohort is.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use crate::animals;
use crate::breeding::model::Kin;
use crate::breeding::model::lines::{LineEntry, OfLine};
use crate::breeding::store;
use crate::cohorts;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, CohortId, StrainId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};

/// The choice of no line.
const NONE: &str = "none";

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct MembershipForm {
    line: String,
    day: String,
    note: String,
}

/// What was said: of which line (or of none), since when, and a note.
type Said = (Option<StrainId>, NaiveDate, String);

impl MembershipForm {
    fn check(&self, today: NaiveDate) -> Result<Said, Mistakes> {
        let mut check = Check::new();
        let line = if self.line.trim() == NONE { Some(None) } else { check.choice("line", &self.line).map(Some) };
        let day = check.day("day", &self.day, today);
        let note = check.optional_text("note", &self.note, 300);
        match (line, day, note) {
            (Some(line), Some(day), Some(note)) => Ok((line, day, note)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "breeding/membership.html")]
struct MembershipPage {
    layout: Layout,
    label: String,
    path: String,
    now: OfLine,
    entries: Vec<LineEntry>,
    lines: Vec<Choice>,
    input: MembershipForm,
    mistakes: Mistakes,
}

impl MembershipPage {
    async fn of(app: &App, me: &SignedIn, kin: Kin, input: MembershipForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let (label, path, species, now) = match kin {
            Kin::Animal(id) => {
                let animal = animals::store::require(&mut db, id).await?;
                (animal.tag, paths::animal(&id), animal.species_id, store::line_of(&mut db, id).await?)
            }
            Kin::Cohort(id) => {
                let cohort = cohorts::store::require(&mut db, id).await?;
                (cohort.code, paths::cohort(&id), cohort.species_id, store::line_of_cohort(&mut db, id).await?)
            }
        };
        let lines = store::lines_of_species(&mut db, species).await?;
        let first = [Choice::new("", "choose"), Choice::new(NONE, "of no line")];
        Ok(Self {
            entries: store::entries_of(&mut db, kin).await?,
            lines: first.into_iter().chain(lines.into_iter().map(|line| Choice::new(line.id, line.name))).collect(),
            layout: Layout::of(app, me, Section::Breeding).await?,
            label,
            path,
            now,
            input,
            mistakes,
        })
    }
}

pub(in crate::breeding) async fn of_animal(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    show(app, me, Kin::Animal(id)).await
}

pub(in crate::breeding) async fn of_cohort(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>) -> Answer {
    show(app, me, Kin::Cohort(id)).await
}

pub(in crate::breeding) async fn save_of_animal(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<MembershipForm>,
) -> Answer {
    save(app, me, Kin::Animal(id), form).await
}

pub(in crate::breeding) async fn save_of_cohort(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<CohortId>,
    form: Form<MembershipForm>,
) -> Answer {
    save(app, me, Kin::Cohort(id), form).await
}

async fn show(app: App, me: SignedIn, kin: Kin) -> Answer {
    let input = MembershipForm { day: app.today().to_string(), ..MembershipForm::default() };
    page(&MembershipPage::of(&app, &me, kin, input, Mistakes::none()).await?)
}

async fn save(app: App, me: SignedIn, kin: Kin, form: Form<MembershipForm>) -> Answer {
    match enter(&app, &me, kin, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&MembershipPage::of(&app, &me, kin, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn enter(app: &App, me: &SignedIn, kin: Kin, form: &Form<MembershipForm>) -> Answer {
    let (line, day, note) = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::enter_line(&mut write, kin, line, day, &note).await?;
    let (subject, path, now) = match kin {
        Kin::Animal(id) => (format!("animal {id}"), paths::animal(&id), store::line_of(write.db(), id).await?),
        Kin::Cohort(id) => (format!("cohort {id}"), paths::cohort(&id), store::line_of_cohort(write.db(), id).await?),
    };
    let say = format!("Entered: {}, since {}.", now.told(), text::day(&day));
    me.done(write, Change::new("line.entered", subject, say.as_str()), &path, say).await
}
