//! The book of one kind of prey: every line with what was on hand after it, and taking one back.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{PreyKindId, PreyLineId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::rounds::model::prey::{PreyLine, Stock};
use crate::rounds::store::prey as store;

/// How many lines are shown.
const SHOWN: i64 = 200;

#[derive(Template)]
#[template(path = "rounds/prey_book.html")]
struct BookPage {
    layout: Layout,
    stock: Stock,
    lines: Vec<PreyLine>,
    /// Whether there are more lines than are shown.
    more: bool,
    mistakes: Mistakes,
    why: String,
}

impl BookPage {
    async fn build(app: &App, me: &SignedIn, kind: PreyKindId, why: String, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let stock = store::stock(&mut db).await?.into_iter().find(|of| of.kind.id == kind).ok_or(AppError::NotFound)?;
        let lines = store::lines(&mut db, kind, SHOWN).await?;
        let more = usize::try_from(SHOWN).is_ok_and(|shown| lines.len() >= shown);
        Ok(Self { layout: Layout::of(app, me, Section::Today).await?, stock, lines, more, mistakes, why })
    }
}

pub(in crate::rounds) async fn show(State(app): State<App>, me: SignedIn, Path(kind): Path<PreyKindId>) -> Answer {
    page(&BookPage::build(&app, &me, kind, String::new(), Mistakes::none()).await?)
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct WhyForm {
    why: String,
}

pub(in crate::rounds) async fn take_back(
    State(app): State<App>,
    me: SignedIn,
    Path((kind, line)): Path<(PreyKindId, PreyLineId)>,
    form: Form<WhyForm>,
) -> Answer {
    match reverse(&app, &me, kind, line, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&BookPage::build(&app, &me, kind, form.input.why, mistakes).await?),
        answer => answer,
    }
}

async fn reverse(app: &App, me: &SignedIn, kind: PreyKindId, line: PreyLineId, form: &Form<WhyForm>) -> Answer {
    let mut check = Check::new();
    let Some(why) = check.text("why", &form.input.why, 200) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let what = store::reverse(&mut write, kind, line, &why).await?;
    let change = Change::new("prey.taken-back", format!("prey line {line}"), format!("{what}: {why}"));
    me.done(write, change, &paths::prey_book(&kind), format!("Taken back: {what}.")).await
}
