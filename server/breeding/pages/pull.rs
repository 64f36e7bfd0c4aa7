//! Taking a sac from the dam.

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
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::rounds;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct PullForm {
    day: String,
    note: String,
}

#[derive(Template)]
#[template(path = "breeding/pull.html")]
struct PullPage {
    layout: Layout,
    sac: Sac,
    input: PullForm,
    mistakes: Mistakes,
}

pub(in crate::breeding) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>) -> Answer {
    let sac = store::require_sac(&mut *app.read().await?, id).await?;
    let input = PullForm { day: app.today().to_string(), note: sac.incubation_note.clone() };
    page(&PullPage { layout: Layout::of(&app, &me, Section::Breeding).await?, sac, input, mistakes: Mistakes::none() })
}

pub(in crate::breeding) async fn save(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>, form: Form<PullForm>) -> Answer {
    let sac = store::require_sac(&mut *app.read().await?, id).await?;
    match pull(&app, &me, &sac, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&PullPage { layout: Layout::of(&app, &me, Section::Breeding).await?, sac, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn pull(app: &App, me: &SignedIn, sac: &Sac, form: &Form<PullForm>) -> Answer {
    let mut check = Check::new();
    let day = check.day("day", &form.input.day, app.today());
    let note = check.paragraphs("note", &form.input.note, 600);
    let (Some(day), Some(note)) = (day, note) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::pull_sac(&mut write, sac.id, day, &note).await?;
    rounds::store::replan_sac(&mut write, sac.id).await?;
    let say = format!("The sac of {} was pulled on {}.", sac.dam(), text::day(&day));
    me.done(write, Change::new("sac.pulled", format!("sac {}", sac.id), say.as_str()), &paths::sac(&sac.id), say).await
}
