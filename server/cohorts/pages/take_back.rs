//! Taking a wrong line of the ledger back.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::cohorts::model::{Cohort, EnteredLine};
use crate::cohorts::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{CohortId, LineId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::ledger::LineKind;
use crate::rounds;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::cohorts) struct TakeBackForm {
    reason: String,
}

#[derive(Template)]
#[template(path = "cohorts/take_back.html")]
struct TakeBackPage {
    layout: Layout,
    cohort: Cohort,
    line: EnteredLine,
    input: TakeBackForm,
    mistakes: Mistakes,
}

impl TakeBackPage {
    async fn of(app: &App, me: &SignedIn, at: (CohortId, LineId), input: TakeBackForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let cohort = store::require(&mut db, at.0).await?;
        let line = store::entered(&mut db, at.0).await?.into_iter().find(|line| line.id == at.1).ok_or(AppError::NotFound)?;
        Ok(Self { layout: Layout::of(app, me, Section::Cohorts).await?, cohort, line, input, mistakes })
    }
}

pub(in crate::cohorts) async fn show(State(app): State<App>, me: SignedIn, Path(at): Path<(CohortId, LineId)>) -> Answer {
    page(&TakeBackPage::of(&app, &me, at, TakeBackForm::default(), Mistakes::none()).await?)
}

pub(in crate::cohorts) async fn save(
    State(app): State<App>,
    me: SignedIn,
    Path(at): Path<(CohortId, LineId)>,
    form: Form<TakeBackForm>,
) -> Answer {
    match take_back(&app, &me, at, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&TakeBackPage::of(&app, &me, at, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn take_back(app: &App, me: &SignedIn, (id, line): (CohortId, LineId), form: &Form<TakeBackForm>) -> Answer {
    let mut check = Check::new();
    let Some(reason) = check.text("reason", &form.input.reason, 300) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let cohort = store::require(write.db(), id).await?;
    let original = store::entered(write.db(), id).await?.into_iter().find(|entered| entered.id == line).ok_or(AppError::NotFound)?;
    store::reverse_because(&mut write, id, line, &reason).await?;
    for other in store::touched_by(write.db(), line).await? {
        rounds::store::replan_cohort(&mut write, other).await?;
    }
    let what = format!("{} {} on {}", original.quantity, original.kind, text::day(&original.day));
    let change = Change::new("cohort.line-taken-back", format!("cohort {id}"), reason.as_str()).from(format!("line {line}: {what}"));
    me.done(write, change, &paths::cohort(&id), format!("{}: taken back: {what}.", cohort.code)).await
}
