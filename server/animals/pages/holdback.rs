//! Holding one tagged animal back for breeding, and releasing it.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::subject::{Subject, change};
use crate::animals::model::holdback::HoldbackEntry;
use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct HoldbackForm {
    reason: String,
}

#[derive(Template)]
#[template(path = "animals/holdback.html")]
struct HoldbackPage {
    layout: Layout,
    subject: Subject,
    /// Whether the page holds back; else it releases.
    holds: bool,
    entries: Vec<HoldbackEntry>,
    input: HoldbackForm,
    mistakes: Mistakes,
}

impl HoldbackPage {
    async fn build(
        app: &App,
        me: &SignedIn,
        subject: Subject,
        holds: bool,
        input: HoldbackForm,
        mistakes: Mistakes,
    ) -> Result<Self, AppError> {
        let entries = store::holdbacks(&mut *app.read().await?, subject.animal.id).await?;
        Ok(Self { layout: Layout::of(app, me, Section::Animals).await?, subject, holds, entries, input, mistakes })
    }
}

pub(in crate::animals) async fn held_back(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::living(&app, id).await?;
    page(&HoldbackPage::build(&app, &me, subject, true, HoldbackForm::default(), Mistakes::none()).await?)
}

pub(in crate::animals) async fn released(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    page(&HoldbackPage::build(&app, &me, subject, false, HoldbackForm::default(), Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_held_back(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<HoldbackForm>,
) -> Answer {
    save(app, me, id, form, true).await
}

pub(in crate::animals) async fn save_released(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<HoldbackForm>,
) -> Answer {
    save(app, me, id, form, false).await
}

async fn save(app: App, me: SignedIn, id: AnimalId, form: Form<HoldbackForm>, holds: bool) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match enter(&app, &me, &subject, &form, holds).await {
        Err(AppError::Refused(mistakes)) => page_again(&HoldbackPage::build(&app, &me, subject, holds, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn enter(app: &App, me: &SignedIn, subject: &Subject, form: &Form<HoldbackForm>, holds: bool) -> Answer {
    let (mut check, id, tag) = (Check::new(), subject.animal.id, &subject.animal.tag);
    let Some(reason) = check.text("reason", &form.input.reason, 400) else { return Err(AppError::Refused(check.mistakes())) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let (action, say) = if holds {
        store::hold_back(&mut write, id, &reason).await?;
        ("animal.held-back", format!("{tag} is held back for breeding: not for sale until a lead releases it."))
    } else {
        store::release(&mut write, id, &reason).await?;
        ("animal.released", format!("{tag} is released: it may be sold."))
    };
    me.done(write, change(action, id, reason), &paths::animal(&id), say).await
}
