//! Marking a sac as failed.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::breeding::model::Sac;
use crate::breeding::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::SacId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::words::LossCause;
use crate::rounds;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct FailForm {
    day: String,
    cause: String,
    note: String,
}

#[derive(Template)]
#[template(path = "breeding/fail.html")]
struct FailPage {
    layout: Layout,
    sac: Sac,
    causes: Vec<Choice>,
    input: FailForm,
    mistakes: Mistakes,
}

impl FailPage {
    async fn of(app: &App, me: &SignedIn, sac: Sac, input: FailForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let causes = choices(LossCause::ALL, LossCause::code);
        Ok(Self { layout: Layout::of(app, me, Section::Breeding).await?, sac, causes, input, mistakes })
    }
}

pub(in crate::breeding) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>) -> Answer {
    let sac = store::require_sac(&mut *app.read().await?, id).await?;
    let input = FailForm { day: app.today().to_string(), cause: LossCause::Unknown.code().to_owned(), ..FailForm::default() };
    page(&FailPage::of(&app, &me, sac, input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn save(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>, form: Form<FailForm>) -> Answer {
    let sac = store::require_sac(&mut *app.read().await?, id).await?;
    match fail(&app, &me, &sac, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&FailPage::of(&app, &me, sac, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn fail(app: &App, me: &SignedIn, sac: &Sac, form: &Form<FailForm>) -> Answer {
    let mut check = Check::new();
    let day = check.day("day", &form.input.day, app.today());
    let cause = check.choice::<LossCause>("cause", &form.input.cause);
    let note = check.paragraphs("note", &form.input.note, 600);
    let (Some(day), Some(cause), Some(note)) = (day, cause, note) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::fail_sac(&mut write, sac.id, day, cause, &note).await?;
    rounds::store::replan_sac(&mut write, sac.id).await?;
    let say = format!("The sac of {} failed on {}: {cause}.", sac.dam(), text::day(&day));
    me.done(write, Change::new("sac.failed", format!("sac {}", sac.id), say.as_str()), &paths::sac(&sac.id), say).await
}
