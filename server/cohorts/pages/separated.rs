//! Putting a communal cohort into vials, with the two counts that are made at it.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::cohorts::counts::{self, Boxes, Counted, Twice};
use crate::cohorts::model::{Cohort, StageCount};
use crate::cohorts::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::CohortId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::rounds;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::cohorts) struct SeparatedForm {
    day: String,
    count_stage: Vec<String>,
    count: Vec<String>,
    second: Vec<String>,
    third: Vec<String>,
}

impl SeparatedForm {
    fn twice(&self) -> Twice<'_> {
        Twice { stages: &self.count_stage, counts: [&self.count, &self.second, &self.third] }
    }
}

#[derive(Template)]
#[template(path = "cohorts/separated.html")]
struct SeparatedPage {
    layout: Layout,
    cohort: Cohort,
    standing: Vec<StageCount>,
    boxes: Boxes,
    input: SeparatedForm,
    mistakes: Mistakes,
}

impl SeparatedPage {
    async fn of(app: &App, me: &SignedIn, id: CohortId, input: SeparatedForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let stages = counts::stages(&store::lines(&mut db, id).await?);
        Ok(Self {
            layout: Layout::of(app, me, Section::Cohorts).await?,
            cohort: store::require(&mut db, id).await?,
            standing: store::standing(&mut db, id).await?,
            boxes: input.twice().boxes(&stages),
            input,
            mistakes,
        })
    }
}

pub(in crate::cohorts) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>) -> Answer {
    let input = SeparatedForm { day: app.today().to_string(), ..SeparatedForm::default() };
    page(&SeparatedPage::of(&app, &me, id, input, Mistakes::none()).await?)
}

pub(in crate::cohorts) async fn save(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>, form: Form<SeparatedForm>) -> Answer {
    let cohort = store::require(&mut *app.read().await?, id).await?;
    match separate(&app, &me, &cohort, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&SeparatedPage::of(&app, &me, id, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn separate(app: &App, me: &SignedIn, cohort: &Cohort, form: &Form<SeparatedForm>) -> Answer {
    let mut check = Check::new();
    let counted = form.input.twice().read(&mut check);
    let day = check.day("day", &form.input.day, app.today());
    let (Some(Counted { tally, counts }), Some(day), true) = (counted, day, check.ok()) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let lines = store::separate_counted(&mut write, cohort.id, day, tally, &counts.into_iter().collect()).await?;
    rounds::store::replan_cohort(&mut write, cohort.id).await?;
    let kept = store::tallies(write.db(), cohort.id).await?.pop().map(|kept| kept.words()).unwrap_or_default();
    let corrected = match lines {
        0 => String::new(),
        _ => format!(" It stands in {} of the ledger.", text::count(&i64::try_from(lines).unwrap_or(0), "line", "lines")),
    };
    let say = format!("{}: in vials since {}. Counted {kept}.{corrected}", cohort.code, text::day(&day));
    let change = Change::new("cohort.separated", format!("cohort {}", cohort.id), say.as_str());
    me.done(write, change, &paths::cohort(&cohort.id), say).await
}
