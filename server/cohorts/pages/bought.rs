//! A bought batch becomes a cohort.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::places;
use crate::cohorts::counts::{self, CountBox};
use crate::cohorts::model::{Housing, NewCohort, NewOrigin};
use crate::cohorts::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::provenance::check_source;
use crate::reckoning::stage::Stage;
use crate::rounds;
use crate::species;

/// The stages at which batches are bought; older ones come in as animals.
const STAGES: [Stage; 10] = [
    Stage::Egg,
    Stage::PostEmbryo,
    Stage::Instar(1),
    Stage::Instar(2),
    Stage::Instar(3),
    Stage::Instar(4),
    Stage::Instar(5),
    Stage::Instar(6),
    Stage::Instar(7),
    Stage::Instar(8),
];

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::cohorts) struct BatchForm {
    species: String,
    supplier: String,
    papers: String,
    source: String,
    locality: String,
    code: String,
    day: String,
    housing: String,
    span_mm: String,
    shelf: String,
    position: String,
    note: String,
    count_stage: Vec<String>,
    count: Vec<String>,
}

impl BatchForm {
    fn check(&self, today: NaiveDate) -> Result<NewCohort, Mistakes> {
        let mut check = Check::new();
        let species = check.choice("species", &self.species);
        let supplier = check.text("supplier", &self.supplier, 120);
        let papers = check.optional_text("papers", &self.papers, 300);
        let source = check_source(&self.source).map_err(|error| check.add("source", text::sentence(&error))).ok();
        let locality = check.optional_text("locality", &self.locality, 120);
        let code = counts::code(&mut check, &self.code);
        let day = check.day("day", &self.day, today);
        let housing = check.choice::<Housing>("housing", &self.housing);
        let span_mm = check.optional_whole("span_mm", &self.span_mm, 1..=400_i64);
        let shelf = check.optional_choice("shelf", &self.shelf);
        let position = check.optional_whole("position", &self.position, 1..=999_i64);
        let note = check.paragraphs("note", &self.note, 1000);
        let counts = counts::read(&mut check, &self.count_stage, &self.count);
        let counts: Vec<_> = counts.into_iter().filter(|(_, count)| *count > 0).collect();
        if counts.is_empty() && check.ok() {
            check.add("count", "Enter how many came in at one stage at least.");
        }
        match (species, supplier, papers, source, locality, day, housing, note) {
            (Some(species_id), Some(supplier), Some(papers), Some(source), Some(locality), Some(started_on), Some(housing), Some(note))
                if check.ok() =>
            {
                let origin = NewOrigin::Bought { supplier, papers };
                Ok(NewCohort { code, species_id, origin, source, locality, started_on, housing, shelf, position, span_mm, note, counts })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "cohorts/bought.html")]
struct BatchPage {
    layout: Layout,
    species: Vec<Choice>,
    housings: Vec<Choice>,
    places: Vec<Choice>,
    boxes: Vec<CountBox>,
    input: BatchForm,
    mistakes: Mistakes,
}

impl BatchPage {
    async fn of(app: &App, me: &SignedIn, input: BatchForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let first = Choice::new("", "choose a species");
        let all = species::store::all(&mut db).await?;
        Ok(Self {
            layout: Layout::of(app, me, Section::Cohorts).await?,
            species: std::iter::once(first).chain(all.into_iter().map(|one| Choice::new(one.id, one.accepted_name))).collect(),
            housings: choices(Housing::ALL, Housing::code),
            places: places(&mut db).await?,
            boxes: counts::boxes(&STAGES, &input.count_stage, &input.count),
            input,
            mistakes,
        })
    }
}

pub(in crate::cohorts) async fn new_batch(State(app): State<App>, me: SignedIn) -> Answer {
    let input = BatchForm { day: app.today().to_string(), ..BatchForm::default() };
    page(&BatchPage::of(&app, &me, input, Mistakes::none()).await?)
}

pub(in crate::cohorts) async fn create_batch(State(app): State<App>, me: SignedIn, form: Form<BatchForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&BatchPage::of(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<BatchForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::insert(&mut write, &new).await?;
    rounds::store::replan_cohort(&mut write, id).await?;
    let cohort = store::require(write.db(), id).await?;
    let alive = store::alive(write.db(), id).await?;
    let change = Change::new("cohort.bought", format!("cohort {id}"), format!("{}: {alive} {}", cohort.code, cohort.species));
    let say = format!("Cohort {} is in the book with {alive} {}.", cohort.code, cohort.short_species());
    me.done(write, change, &paths::cohort(&id), say).await
}
