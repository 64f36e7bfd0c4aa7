//! Putting animals and lots on a handover with their prices, and taking them off.

use axum::extract::State;

use super::adding::{AddForm, add_all};
use super::line_table::LinesForm;
use super::{Typed, again};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::Answer;
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Form};
use crate::house::ids::{HandoverId, HandoverLineId};
use crate::house::{paths, text};
use crate::sales::model::Sale;
use crate::sales::store::{self, sale_lines};

pub(in crate::sales) async fn add(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>, form: Form<AddForm>) -> Answer {
    let answer = save_added(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { add: form.input, ..Typed::default() }).await
}

async fn save_added(app: &App, me: &SignedIn, id: HandoverId, form: &Form<AddForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let told = add_all(&mut write, Sale::Handover(id), &form.input).await?.join(", ");
    let change = Change::new("handover.line-added", format!("handover {id}"), told.clone());
    me.done(write, change, &paths::handover(&id), format!("On the list: {told}.")).await
}

pub(in crate::sales) async fn change_prices(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<HandoverId>,
    form: Form<LinesForm>,
) -> Answer {
    let answer = save_prices(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { lines: form.input, ..Typed::default() }).await
}

async fn save_prices(app: &App, me: &SignedIn, id: HandoverId, form: &Form<LinesForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let lines = sale_lines::sale_lines(write.db(), Sale::Handover(id)).await?;
    let terms = store::terms::terms(write.db()).await?;
    let changes = form.input.check(&lines, terms.as_ref())?;
    let changed = sale_lines::change_lines(&mut write, Sale::Handover(id), &changes).await?;
    let changed = i64::try_from(changed).unwrap_or(i64::MAX);
    let change = Change::new("handover.prices-changed", format!("handover {id}"), text::count(&changed, "line", "lines"));
    me.done(write, change, &paths::handover(&id), "Saved.").await
}

pub(in crate::sales) async fn remove_line(
    State(app): State<App>,
    me: SignedIn,
    Path((id, line)): Path<(HandoverId, HandoverLineId)>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    store::remove_line(&mut write, id, line).await?;
    let change = Change::new("handover.line-removed", format!("handover {id}"), "").from(format!("line {line}"));
    me.done(write, change, &paths::handover(&id), "Taken off the list.").await
}
