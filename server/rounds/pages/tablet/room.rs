//! The room's round: every open duty of the room in walking order, whoever has it.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use chrono::NaiveDate;
use chrono_tz::Tz;
use serde::Deserialize;
use sqlx::SqliteConnection;

use super::signer::Signers;
use crate::breeding;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::Query;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{DutyId, RoomId, ShelfId};
use crate::house::layout::{page, page_again};
use crate::house::paths;
use crate::house::session::Theme;
use crate::house::tablet::{Device, TabletFrame};
use crate::reckoning::words::DutyKind;
use crate::rounds::model::{Duty, Outcome, Signoff};
use crate::rounds::pages::stop::Stop;
use crate::rounds::store;
use crate::staff;

/// The stops on one shelf.
struct ShelfStops {
    place: String,
    shelf: Option<ShelfId>,
    stops: Vec<Stop>,
}

impl ShelfStops {
    /// How many feeds one PIN can sign together.
    fn feeds(&self) -> usize {
        self.stops.iter().filter(|stop| is_free_feed(&stop.duty)).count()
    }
}

/// Whether a duty is a feed that can be signed off now.
pub(super) fn is_free_feed(duty: &Duty) -> bool {
    duty.kind == DutyKind::Feed && duty.held.is_none() && duty.persons == 1
}

/// What was written just now, as told at the top.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::rounds) struct Asked {
    done: usize,
}

#[derive(Template)]
#[template(path = "rounds/tablet_room.html")]
pub(super) struct RoomPage {
    layout: TabletFrame,
    today: NaiveDate,
    zone: Tz,
    shelves: Vec<ShelfStops>,
    duties: usize,
    late: usize,
    signed: Vec<Signoff>,
    signers: Signers,
    done: usize,
    /// What the moults among what was written just now make void.
    voided: Vec<String>,
    /// What was not written, and why.
    refused: Vec<String>,
    mistakes: Mistakes,
}

impl RoomPage {
    pub(super) async fn build(app: &App, device: &Device, done: usize, refused: Vec<String>, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let (today, now, zone) = (app.today(), app.now(), app.site().zone);
        let open = store::tablet::open_in_room(&mut db, device.room_id).await?;
        let known = store::known(&mut db, now, zone).await?;
        let signers = Signers::read(&mut db, app.today()).await?;
        let signed = store::tablet::signed_at(&mut db, device.id, now).await?;
        let mut voided = Vec::new();
        for one in signed.iter().take(done).filter(|one| one.outcome == Outcome::Moulted) {
            voided.extend(breeding::store::voided_by_signoff(&mut db, one.id).await?.map(|voided| voided.words));
        }
        Ok(Self {
            layout: TabletFrame::of(device),
            today,
            zone,
            duties: open.len(),
            late: open.iter().filter(|duty| duty.is_late(&today)).count(),
            shelves: by_shelf(open.into_iter().map(|duty| Stop::new(duty, &known, today)).collect()),
            signed,
            voided,
            refused: refused.iter().map(|why| signers.short(why)).collect(),
            signers,
            done,
            mistakes,
        })
    }
}

fn by_shelf(stops: Vec<Stop>) -> Vec<ShelfStops> {
    let mut shelves: Vec<ShelfStops> = Vec::new();
    for stop in stops {
        match shelves.last_mut().filter(|last| last.shelf == stop.duty.shelf_id) {
            Some(last) => last.stops.push(stop),
            None => {
                let place = stop.duty.place.clone().unwrap_or_default();
                shelves.push(ShelfStops { place, shelf: stop.duty.shelf_id, stops: vec![stop] });
            }
        }
    }
    shelves
}

pub(in crate::rounds) async fn room(State(app): State<App>, device: Device, Query(asked): Query<Asked>) -> Answer {
    page(&RoomPage::build(&app, &device, asked.done, Vec::new(), Mistakes::none()).await?)
}

/// The room's round again, with what could not be done.
pub(super) async fn again(app: &App, device: &Device, mistakes: Mistakes, status: StatusCode) -> Answer {
    let mut answer = page_again(&RoomPage::build(app, device, 0, Vec::new(), mistakes).await?)?;
    *answer.status_mut() = status;
    Ok(answer)
}

/// The open duties of a room, by id, in walking order.
pub(super) async fn ids(db: &mut SqliteConnection, room: RoomId) -> Result<Vec<DutyId>, AppError> {
    Ok(store::tablet::open_in_room(db, room).await?.iter().map(|duty| duty.id).collect())
}

/// Where the round goes on after so many sign-offs: the first stop behind them that still stands open.
pub(super) async fn next(db: &mut SqliteConnection, room: RoomId, before: &[DutyId], signed: &[DutyId]) -> Result<String, AppError> {
    let standing = ids(db, room).await?;
    let after = before.iter().rposition(|id| signed.contains(id)).map_or(0, |place| place + 1);
    let next = before.iter().skip(after).find(|id| standing.contains(id));
    let stop = next.map_or_else(String::new, |id| format!("#duty-{id}"));
    Ok(format!("{}?done={}{stop}", paths::TABLET, signed.len()))
}

/// Choosing colours.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct ThemeForm {
    theme: String,
}

pub(in crate::rounds) async fn theme(State(app): State<App>, device: Device, form: Form<ThemeForm>) -> Answer {
    let theme: Theme =
        Check::new().choice("theme", &form.input.theme).ok_or_else(|| AppError::refused("theme", "Choose one of the colours."))?;
    staff::store::devices::set_theme(&mut *app.database.writer.acquire().await.map_err(anyhow::Error::from)?, device.id, theme).await?;
    Ok(redirect(paths::TABLET))
}
