//! Noting that a stage was first seen in a sac, and striking a slip out.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::breeding::model::Sac;
use crate::breeding::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{SacId, SacSeenId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::stage::Stage;
use crate::rounds;

/// The stages that a sac is watched for.
const STAGES: [Stage; 3] = [Stage::PostEmbryo, Stage::Instar(1), Stage::Instar(2)];

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct SeenForm {
    stage: String,
    day: String,
}

#[derive(Template)]
#[template(path = "breeding/seen.html")]
struct SeenPage {
    layout: Layout,
    sac: Sac,
    stages: Vec<Choice>,
    input: SeenForm,
    mistakes: Mistakes,
}

impl SeenPage {
    async fn of(app: &App, me: &SignedIn, sac: Sac, input: SeenForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let stages = STAGES.iter().map(|stage| Choice::new(stage.code(), stage)).collect();
        Ok(Self { layout: Layout::of(app, me, Section::Breeding).await?, sac, stages, input, mistakes })
    }
}

pub(in crate::breeding) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>) -> Answer {
    let mut db = app.read().await?;
    let sac = store::require_sac(&mut db, id).await?;
    let next = store::stages_ahead(&mut db, &sac).await?.into_iter().find(|stage| stage.seen_on.is_none());
    drop(db);
    let stage = next.map(|next| next.stage.code()).unwrap_or_default();
    let input = SeenForm { stage, day: app.today().to_string() };
    page(&SeenPage::of(&app, &me, sac, input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn save(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>, form: Form<SeenForm>) -> Answer {
    let sac = store::require_sac(&mut *app.read().await?, id).await?;
    match see(&app, &me, &sac, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&SeenPage::of(&app, &me, sac, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn see(app: &App, me: &SignedIn, sac: &Sac, form: &Form<SeenForm>) -> Answer {
    let mut check = Check::new();
    let stage = check.choice::<Stage>("stage", &form.input.stage);
    let day = check.day("day", &form.input.day, app.today());
    let (Some(stage), Some(day)) = (stage, day) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::incubation::see(&mut write, sac.id, stage, day).await?;
    rounds::store::replan_sac(&mut write, sac.id).await?;
    let say = format!("The sac of {}: {stage} first seen on {}.", sac.dam(), text::day(&day));
    me.done(write, Change::new("sac.seen", format!("sac {}", sac.id), say.as_str()), &paths::sac(&sac.id), say).await
}

pub(in crate::breeding) async fn strike(
    State(app): State<App>,
    me: SignedIn,
    Path((sac, seen)): Path<(SacId, SacSeenId)>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let struck = store::incubation::unsee(&mut write, sac, seen).await?;
    rounds::store::replan_sac(&mut write, sac).await?;
    let words = format!("{} on {}", struck.stage, text::day(&struck.day));
    let change = Change::new("sac.seen_struck_out", format!("sac {sac}"), words.as_str());
    me.done(write, change, &paths::sac(&sac), format!("{} no longer counts.", text::capitalised(&words))).await
}
