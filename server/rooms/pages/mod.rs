//! Pages of rooms and racks.

pub(super) mod order;
pub(super) mod rack;
pub(super) mod reading;

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::model::{NewRack, NewRoom, Rack, Room};
use super::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::RoomId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;

#[derive(Template)]
#[template(path = "rooms/list.html")]
struct ListPage {
    layout: Layout,
    rooms: Vec<(Room, Vec<Rack>)>,
}

pub(super) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let racks = store::racks(&mut db).await?;
    let rooms = store::rooms(&mut db).await?;
    let rooms = rooms
        .into_iter()
        .map(|room| {
            let own = racks.iter().filter(|rack| rack.room_id == room.id).cloned().collect();
            (room, own)
        })
        .collect();
    page(&ListPage { layout: Layout::of(&app, &me, Section::Rooms).await?, rooms })
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(super) struct RoomForm {
    name: String,
    walk_order: String,
}

impl RoomForm {
    fn check(&self) -> Result<NewRoom, Mistakes> {
        let mut check = Check::new();
        let name = check.text("name", &self.name, 60);
        let walk_order = check.whole("walk_order", &self.walk_order, 0..=999);
        match (name, walk_order) {
            (Some(name), Some(walk_order)) => Ok(NewRoom { name, walk_order }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "rooms/new_room.html")]
struct NewRoomPage {
    layout: Layout,
    input: RoomForm,
    mistakes: Mistakes,
}

pub(super) async fn new_room(State(app): State<App>, me: SignedIn) -> Answer {
    let input = RoomForm { walk_order: "1".to_owned(), ..RoomForm::default() };
    page(&NewRoomPage { layout: Layout::of(&app, &me, Section::Rooms).await?, input, mistakes: Mistakes::none() })
}

pub(super) async fn create_room(State(app): State<App>, me: SignedIn, form: Form<RoomForm>) -> Answer {
    match save_room(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&NewRoomPage { layout: Layout::of(&app, &me, Section::Rooms).await?, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save_room(app: &App, me: &SignedIn, form: &Form<RoomForm>) -> Answer {
    let new = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::insert_room(&mut write, &new).await?;
    let change = Change::new("room.added", format!("room {id}"), new.name.as_str());
    me.done(write, change, paths::ROOMS, format!("{} is in the book. Give it a rack next.", new.name)).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(super) struct RackForm {
    name: String,
    walk_order: String,
    shelves: String,
}

impl RackForm {
    fn check(&self) -> Result<NewRack, Mistakes> {
        let mut check = Check::new();
        let name = check.text("name", &self.name, 60);
        let walk_order = check.whole("walk_order", &self.walk_order, 0..=999);
        let shelves = check.whole("shelves", &self.shelves, 1..=40);
        match (name, walk_order, shelves) {
            (Some(name), Some(walk_order), Some(shelves)) => Ok(NewRack { name, walk_order, shelves }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "rooms/new_rack.html")]
struct NewRackPage {
    layout: Layout,
    room: Room,
    input: RackForm,
    mistakes: Mistakes,
}

pub(super) async fn new_rack(State(app): State<App>, me: SignedIn, Path(room): Path<RoomId>) -> Answer {
    let room = store::require_room(&mut *app.read().await?, room).await?;
    let input = RackForm { walk_order: "1".to_owned(), shelves: "5".to_owned(), ..RackForm::default() };
    page(&NewRackPage { layout: Layout::of(&app, &me, Section::Rooms).await?, room, input, mistakes: Mistakes::none() })
}

pub(super) async fn create_rack(State(app): State<App>, me: SignedIn, Path(room): Path<RoomId>, form: Form<RackForm>) -> Answer {
    let room = store::require_room(&mut *app.read().await?, room).await?;
    match save_rack(&app, &me, &room, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&NewRackPage { layout: Layout::of(&app, &me, Section::Rooms).await?, room, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save_rack(app: &App, me: &SignedIn, room: &Room, form: &Form<RackForm>) -> Answer {
    let new = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::insert_rack(&mut write, room.id, &new).await?;
    let change = Change::new("rack.added", format!("rack {id}"), format!("{}: {}, {} shelves", room.name, new.name, new.shelves));
    me.done(write, change, paths::ROOMS, format!("Rack {} stands in {}.", new.name, room.name)).await
}
