//! Rooms' tablets: leads make and revoke them, and an address opens one on its tablet.

use askama::Template;
use axum::extract::State;
use axum::http::header::SET_COOKIE;
use axum::response::IntoResponse as _;
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{DeviceId, RoomId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::session::Visit;
use crate::house::{paths, qr, tablet};
use crate::rooms;
use crate::staff::model::{DeviceRow, Opening};
use crate::staff::store::devices;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct TabletForm {
    name: String,
    room: String,
}

#[derive(Template)]
#[template(path = "staff/tablets.html")]
struct TabletsPage {
    layout: Layout,
    devices: Vec<DeviceRow>,
    rooms: Vec<Choice>,
    input: TabletForm,
    mistakes: Mistakes,
    zone: Tz,
}

impl TabletsPage {
    async fn build(app: &App, me: &SignedIn, input: TabletForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let devices = devices::all(&mut db).await?;
        let rooms = rooms::store::rooms(&mut db).await?.iter().map(|room| Choice::new(room.id, &room.name)).collect();
        Ok(Self { layout: Layout::of(app, me, Section::Staff).await?, devices, rooms, input, mistakes, zone: app.site().zone })
    }
}

#[derive(Template)]
#[template(path = "staff/tablet_link.html")]
struct LinkPage {
    layout: Layout,
    name: String,
    url: String,
    picture: String,
    expires_at: DateTime<Utc>,
    zone: Tz,
}

#[derive(Template)]
#[template(path = "staff/tablet_open.html")]
struct OpenPage {
    layout: Layout,
    opening: Opening,
}

pub(in crate::staff) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    page(&TabletsPage::build(&app, &me, TabletForm::default(), Mistakes::none()).await?)
}

pub(in crate::staff) async fn make(State(app): State<App>, me: SignedIn, form: Form<TabletForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&TabletsPage::build(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<TabletForm>) -> Answer {
    let mut check = Check::new();
    let name = check.text("name", &form.input.name, 80);
    let room: Option<RoomId> = check.choice("room", &form.input.room);
    let (Some(name), Some(room)) = (name, room) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let room = rooms::store::require_room(write.db(), room).await.map_err(|error| match error {
        AppError::NotFound => AppError::refused("room", "Choose one of the list."),
        other => other,
    })?;
    let made = devices::make(&mut write, &name, room.id).await?;
    write.commit(Change::new("tablet.made", format!("device {}", made.id), format!("{name}: {}", room.name)), paths::TABLETS).await?;
    show_link(app, me, name, made).await
}

async fn show_link(app: &App, me: &SignedIn, name: String, made: devices::MadeDevice) -> Answer {
    let url = format!("{}{}", app.config.public_url, paths::tablet_link(&made.token));
    let (picture, expires_at) = (qr::svg(&url)?, made.expires_at);
    page(&LinkPage { layout: Layout::of(app, me, Section::Staff).await?, name, url, picture, expires_at, zone: app.site().zone })
}

pub(in crate::staff) async fn link(State(app): State<App>, me: SignedIn, Path(id): Path<DeviceId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let device = devices::require(write.db(), id).await?;
    let made = devices::make_link(&mut write, id).await?;
    write.commit(Change::new("tablet.address_made", format!("device {id}"), device.name.as_str()), paths::TABLETS).await?;
    show_link(&app, &me, device.name, made).await
}

pub(in crate::staff) async fn revoke(State(app): State<App>, me: SignedIn, Path(id): Path<DeviceId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let device = devices::require(write.db(), id).await?;
    devices::revoke(&mut write, id).await?;
    let change = Change::new("tablet.revoked", format!("device {id}"), "").from(device.name.as_str());
    me.done(write, change, paths::TABLETS, format!("{} can do nothing any more, from its next page on.", device.name)).await
}

pub(in crate::staff) async fn show_open(State(app): State<App>, visit: Visit, Path(token): Path<String>) -> Answer {
    let opening = devices::of_link(&mut *app.read().await?, &token, app.now()).await?;
    page(&OpenPage { layout: Layout::outside(&app, &visit).await?, opening })
}

/// Makes this browser the tablet. Whoever was signed in on it is so no more.
pub(in crate::staff) async fn open(State(app): State<App>, visit: Visit, Path(token): Path<String>, _form: Form<ButtonForm>) -> Answer {
    let mut write = app.write(None).await?;
    let (opening, secret) = devices::open(&mut write, &token).await?;
    let change = Change::new("tablet.opened", format!("device {}", opening.id), format!("{}: {}", opening.name, opening.room_name));
    write.commit(change, paths::TABLET).await?;
    visit.sign_out().await?;
    let cookie = tablet::cookie(&app, &secret).ok_or_else(|| anyhow::anyhow!("a cookie can't hold the tablet's secret"))?;
    Ok(([(SET_COOKIE, cookie)], redirect(paths::TABLET)).into_response())
}
