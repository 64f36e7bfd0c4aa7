//! The order in which a round is walked: rooms, their racks, the racks' shelves. A thing moves one place up or down at a tap.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form};
use crate::house::ids::{RackId, RoomId, ShelfId};
use crate::house::layout::{Layout, Section, page};
use crate::rooms::model::order::{Step, WalkedRoom};
use crate::rooms::store::order;

/// The page of the walking order.
const ORDER: &str = "/rooms/order";

#[derive(Template)]
#[template(path = "rooms/order.html")]
struct OrderPage {
    layout: Layout,
    rooms: Vec<WalkedRoom>,
}

pub(in crate::rooms) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let rooms = order::walk(&mut *app.read().await?).await?;
    page(&OrderPage { layout: Layout::of(&app, &me, Section::Rooms).await?, rooms })
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rooms) struct StepForm {
    step: String,
}

impl StepForm {
    fn check(&self) -> Result<Step, AppError> {
        let mut check = Check::new();
        check
            .choice("step", &self.step)
            .ok_or_else(|| AppError::BadRequest("This button is not one of the page's. Open it again.".to_owned()))
    }
}

pub(in crate::rooms) async fn move_room(State(app): State<App>, me: SignedIn, Path(id): Path<RoomId>, form: Form<StepForm>) -> Answer {
    let step = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let name = order::move_room(&mut write, id, step).await?;
    let change = Change::new("room.moved", format!("room {id}"), format!("{name}: {step}"));
    me.done(write, change, &format!("{ORDER}#room-{id}"), format!("{name} is walked one place {step}.")).await
}

pub(in crate::rooms) async fn move_rack(State(app): State<App>, me: SignedIn, Path(id): Path<RackId>, form: Form<StepForm>) -> Answer {
    let step = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let name = order::move_rack(&mut write, id, step).await?;
    let change = Change::new("rack.moved", format!("rack {id}"), format!("{name}: {step}"));
    me.done(write, change, &format!("{ORDER}#rack-{id}"), format!("{name} is walked one place {step}.")).await
}

pub(in crate::rooms) async fn move_shelf(State(app): State<App>, me: SignedIn, Path(id): Path<ShelfId>, form: Form<StepForm>) -> Answer {
    let step = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let name = order::move_shelf(&mut write, id, step).await?;
    let change = Change::new("shelf.moved", format!("shelf {id}"), format!("{name}: {step}"));
    me.done(write, change, &format!("{ORDER}#shelf-{id}"), format!("{name} is walked one place {step}.")).await
}
