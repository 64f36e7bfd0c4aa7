//! Noting that somebody looked into a cohort's losses.

use axum::extract::State;
use serde::Deserialize;

use crate::cohorts::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::CohortId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use askama::Template;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::cohorts) struct ReviewForm {
    note: String,
}

#[derive(Template)]
#[template(path = "cohorts/looked_into.html")]
struct ReviewPage {
    layout: Layout,
    id: CohortId,
    code: String,
    input: ReviewForm,
    mistakes: Mistakes,
}

pub(in crate::cohorts) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>) -> Answer {
    let code = store::require(&mut *app.read().await?, id).await?.code;
    let layout = Layout::of(&app, &me, Section::Cohorts).await?;
    page(&ReviewPage { layout, id, code, input: ReviewForm::default(), mistakes: Mistakes::none() })
}

pub(in crate::cohorts) async fn save(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>, form: Form<ReviewForm>) -> Answer {
    let code = store::require(&mut *app.read().await?, id).await?.code;
    match note(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let layout = Layout::of(&app, &me, Section::Cohorts).await?;
            page_again(&ReviewPage { layout, id, code, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn note(app: &App, me: &SignedIn, id: CohortId, form: &Form<ReviewForm>) -> Answer {
    let mut check = Check::new();
    let Some(note) = check.text("note", &form.input.note, 600) else { return Err(AppError::Refused(check.mistakes())) };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::look_into(&mut write, id, &note).await?;
    let change = Change::new("losses.looked_into", format!("cohort {id}"), note.as_str());
    me.done(write, change, &paths::cohort(&id), "What you found is in the book; losses count afresh from tomorrow.").await
}
