//! Buttons that issue a paper: vial labels, rehouse cards, incident reports, box labels.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::cohorts;
use crate::cohorts::model::Cohort;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{AnimalId, CohortId, HandoverId, IncidentId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::house::write::Write;
use crate::papers::model::{Issued, PaperLine};
use crate::papers::store::{self, MOST_LABELS, NewLabels};
use crate::reckoning::stage::Stage;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::papers) struct LabelsForm {
    sheet: String,
    start: String,
    count: String,
    stage: String,
}

impl LabelsForm {
    fn check(&self, cohort: CohortId) -> Result<NewLabels, Mistakes> {
        let mut check = Check::new();
        let sheet = check.choice("sheet", &self.sheet);
        let start = check.whole("start", &self.start, 1..=3200);
        let count = check.optional_whole("count", &self.count, 1..=MOST_LABELS);
        let stage = check.optional_choice::<Stage>("stage", &self.stage);
        match (sheet, start) {
            (Some(sheet), Some(start)) if check.ok() => Ok(NewLabels { cohort, sheet, start, count, stage }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "papers/new_vial_labels.html")]
struct LabelsPage {
    layout: Layout,
    cohort: Cohort,
    sheets: Vec<Choice>,
    stages: Vec<Choice>,
    alive: i64,
    issued: Vec<PaperLine>,
    input: LabelsForm,
    mistakes: Mistakes,
}

impl LabelsPage {
    async fn of(app: &App, me: &SignedIn, id: CohortId, input: LabelsForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let sheets = store::label_sheets(&mut db).await?;
        let first = Choice::new("", "as they stand");
        let stages = std::iter::once(first).chain(Stage::all().map(|stage| Choice::new(stage.code(), stage)));
        let issued = store::of_cohort(&mut db, id).await?;
        Ok(Self {
            cohort: cohorts::store::require(&mut db, id).await?,
            sheets: sheets.iter().map(|sheet| Choice::new(sheet.id, &sheet.name)).collect(),
            stages: stages.collect(),
            alive: cohorts::store::alive(&mut db, id).await?,
            issued: issued.into_iter().filter(|paper| paper.kind.for_house()).collect(),
            layout: Layout::of(app, me, Section::Cohorts).await?,
            input,
            mistakes,
        })
    }
}

pub(in crate::papers) async fn new_vial_labels(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>) -> Answer {
    let input = LabelsForm { start: "1".to_owned(), ..LabelsForm::default() };
    page(&LabelsPage::of(&app, &me, id, input, Mistakes::none()).await?)
}

pub(in crate::papers) async fn vial_labels(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<CohortId>,
    form: Form<LabelsForm>,
) -> Answer {
    match save_labels(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&LabelsPage::of(&app, &me, id, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save_labels(app: &App, me: &SignedIn, id: CohortId, form: &Form<LabelsForm>) -> Answer {
    cohorts::store::require(&mut *app.read().await?, id).await?;
    let new = form.input.check(id)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let issued = store::issue_vial_labels(&mut write, app, &new).await?;
    done(me, write, &issued, &paths::vial_labels(&id)).await
}

/// Closes a write that issued one paper. The fingerprint stands in the trail, so that paper and fingerprint can't both be exchanged
/// unnoticed.
async fn done(me: &SignedIn, write: Write, issued: &Issued, path: &str) -> Answer {
    let change = Change::new("paper.issued", format!("paper {}", issued.id), format!("{} {}", issued.number, issued.fingerprint));
    me.done(write, change, path, format!("{} is issued: open it below and print it.", issued.number)).await
}

pub(in crate::papers) async fn rehouse_card(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let issued = store::issue_rehouse_card(&mut write, &app, id).await?;
    done(&me, write, &issued, &paths::animal(&id)).await
}

pub(in crate::papers) async fn incident_report(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<IncidentId>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let issued = store::issue_incident_report(&mut write, &app, id).await?;
    done(&me, write, &issued, &paths::incident(&id)).await
}

pub(in crate::papers) async fn box_label(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<HandoverId>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let issued = store::issue_box_label(&mut write, &app, id).await?;
    done(&me, write, &issued, &paths::handover(&id)).await
}
