//! A recount: what was counted, stage by stage; the difference becomes lines of the ledger.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use crate::cohorts::counts::{self, CountBox};
use crate::cohorts::model::Cohort;
use crate::cohorts::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::CohortId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::stage::Stage;
use crate::rounds;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::cohorts) struct RecountForm {
    day: String,
    span_mm: String,
    note: String,
    count_stage: Vec<String>,
    count: Vec<String>,
}

struct Recount {
    day: NaiveDate,
    span_mm: Option<i64>,
    note: String,
    counted: BTreeMap<Stage, u32>,
}

impl RecountForm {
    fn check(&self, today: NaiveDate) -> Result<Recount, Mistakes> {
        let mut check = Check::new();
        let counted: BTreeMap<Stage, u32> = counts::read(&mut check, &self.count_stage, &self.count).into_iter().collect();
        if counted.is_empty() && check.ok() {
            check.add("count", "Enter what was counted at one stage at least.");
        }
        let day = check.day("day", &self.day, today);
        let span_mm = check.optional_whole("span_mm", &self.span_mm, 1..=400_i64);
        let note = check.paragraphs("note", &self.note, 400);
        match (day, note) {
            (Some(day), Some(note)) if check.ok() => Ok(Recount { day, span_mm, note, counted }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "cohorts/recount.html")]
struct RecountPage {
    layout: Layout,
    cohort: Cohort,
    boxes: Vec<CountBox>,
    input: RecountForm,
    mistakes: Mistakes,
}

impl RecountPage {
    async fn of(app: &App, me: &SignedIn, id: CohortId, input: RecountForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let cohort = store::require(&mut db, id).await?;
        let stages = counts::stages(&store::lines(&mut db, id).await?);
        Ok(Self {
            layout: Layout::of(app, me, Section::Cohorts).await?,
            cohort,
            boxes: counts::boxes(&stages, &input.count_stage, &input.count),
            input,
            mistakes,
        })
    }
}

pub(in crate::cohorts) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>) -> Answer {
    let input = RecountForm { day: app.today().to_string(), ..RecountForm::default() };
    page(&RecountPage::of(&app, &me, id, input, Mistakes::none()).await?)
}

pub(in crate::cohorts) async fn save(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>, form: Form<RecountForm>) -> Answer {
    let cohort = store::require(&mut *app.read().await?, id).await?;
    match enter(&app, &me, &cohort, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&RecountPage::of(&app, &me, id, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn enter(app: &App, me: &SignedIn, cohort: &Cohort, form: &Form<RecountForm>) -> Answer {
    let Recount { day, span_mm, note, counted } = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let lines = store::recount(&mut write, cohort.id, day, &counted, &note).await?;
    if let Some(span_mm) = span_mm {
        store::set_span(&mut write, cohort.id, span_mm).await?;
    }
    rounds::store::replan_cohort(&mut write, cohort.id).await?;
    let told: Vec<String> = counted.iter().map(|(stage, count)| format!("{count} {stage}")).collect();
    let outcome = match lines {
        0 => "The book agrees.".to_owned(),
        _ => format!("The difference stands in {} of the ledger.", text::count(&i64::try_from(lines).unwrap_or(0), "line", "lines")),
    };
    let say = format!("{}: counted {} on {}. {outcome}", cohort.code, told.join(", "), text::day(&day));
    let change = Change::new("cohort.recounted", format!("cohort {}", cohort.id), say.as_str());
    me.done(write, change, &paths::cohort(&cohort.id), say).await
}
