//! A shelf's feeding at a tablet: every animal by name, with one PIN for all.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;

use super::room::{self, RoomPage, is_free_feed};
use super::signer::{Signers, Typed};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::Path;
use crate::house::forms::{Check, Fields, Form, Mistakes, Once};
use crate::house::ids::ShelfId;
use crate::house::layout::{page, page_again};
use crate::house::tablet::{Device, TabletFrame};
use crate::rounds::model::arrival::Arrival;
use crate::rounds::pages::intake::Batch;
use crate::rounds::pages::stop::Stop;
use crate::rounds::store;

/// The band from which an animal is never signed unseen among others.
const LOOKED_AT_BY_ITSELF: i64 = 3;

#[derive(Template)]
#[template(path = "rounds/tablet_shelf.html")]
struct ShelfPage {
    layout: TabletFrame,
    shelf: ShelfId,
    place: String,
    stops: Vec<Stop>,
    chosen: Fields,
    typed: Typed,
    mistakes: Mistakes,
    signers: Signers,
}

impl ShelfPage {
    async fn build(
        app: &App,
        device: &Device,
        shelf: ShelfId,
        (chosen, typed): (Fields, Typed),
        mistakes: Mistakes,
    ) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let open = store::tablet::open_in_room(&mut db, device.room_id).await?;
        let known = store::known(&mut db, app.now(), app.site().zone).await?;
        let feeds = open.into_iter().filter(|duty| duty.shelf_id == Some(shelf) && is_free_feed(duty));
        let stops: Vec<Stop> = feeds.map(|duty| Stop::new(duty, &known, app.today())).collect();
        let place = stops.first().and_then(|stop| stop.duty.place.clone()).ok_or(AppError::NotFound)?;
        let signers = Signers::read(&mut db, app.today()).await?;
        Ok(Self { layout: TabletFrame::of(device), shelf, place, stops, chosen, typed, mistakes, signers })
    }

    /// Whether an end is marked: as it was chosen; at first “took it”, but never for an animal that must be looked at by itself.
    fn marked(&self, stop: &Stop, code: &str) -> bool {
        let name = format!("outcome-{}", stop.duty.id);
        match self.chosen.iter().find(|(known, _)| *known == name) {
            Some((_, chosen)) => chosen == code,
            None => code == "took" && stop.duty.band < LOOKED_AT_BY_ITSELF,
        }
    }
}

pub(in crate::rounds) async fn show_shelf(State(app): State<App>, device: Device, Path(shelf): Path<ShelfId>) -> Answer {
    page(&ShelfPage::build(&app, &device, shelf, (Fields::new(), Typed::default()), Mistakes::none()).await?)
}

pub(in crate::rounds) async fn sign_shelf(
    State(app): State<App>,
    device: Device,
    Path(shelf): Path<ShelfId>,
    form: Form<Fields>,
) -> Answer {
    let Form { input: mut fields, once } = form;
    let typed = Typed::take(&mut fields);
    let (batch, _) = Batch::read(&fields)?;
    let (mistakes, status) = match write(&app, &device, shelf, &batch, &typed, &once).await {
        Err(AppError::Refused(mistakes)) => (mistakes, StatusCode::UNPROCESSABLE_ENTITY),
        Err(AppError::TooMany(why)) => (Mistakes::one("pin", why), StatusCode::TOO_MANY_REQUESTS),
        answer => return answer,
    };
    let mut answer = page_again(&ShelfPage::build(&app, &device, shelf, (fields, typed), mistakes).await?)?;
    *answer.status_mut() = status;
    Ok(answer)
}

async fn write(app: &App, device: &Device, shelf: ShelfId, batch: &Batch, typed: &Typed, once: &Once) -> Answer {
    let mut db = app.read().await?;
    let signers = Signers::read(&mut db, app.today()).await?;
    let mut check = Check::new();
    let signer = typed.check(&mut check, &signers);
    for id in batch.chosen.iter().map(|(id, _)| id).chain(&batch.unseen) {
        let duty = store::tablet::require_in_room(&mut db, device.room_id, *id).await?;
        if duty.shelf_id.is_some_and(|stands| stands != shelf) || duty.kind != crate::reckoning::words::DutyKind::Feed {
            return Err(AppError::BadRequest("A duty on this form is not a feed of this shelf. Open the shelf again.".to_owned()));
        }
        if batch.unseen.contains(id) {
            check.add("", format!("Look at {} and choose what became of it, or “not now”.", duty.label));
        }
    }
    drop(db);
    if batch.chosen.iter().any(|(_, outcome)| outcome.meal().is_none()) {
        return Err(AppError::BadRequest("An outcome on this form is not one of the list.".to_owned()));
    }
    if batch.chosen.is_empty() && check.ok() {
        check.add("", "Nothing was chosen, so nothing was written.");
    }
    let (Some(signer), true) = (signer, check.ok()) else { return Err(check.mistakes().into()) };
    typed.verify(app, device, signer, None).await?;
    let mut write = app.begin(signer, once).await?;
    let before = room::ids(write.db(), device.room_id).await?;
    let signed = batch.sign(&mut write, Arrival::Tablet(device.id)).await?;
    let refused: Vec<String> = signed.refused.into_iter().map(|(_, _, why)| why).collect();
    if signed.written.is_empty() {
        drop(write);
        return page_again(&RoomPage::build(app, device, 0, refused, Mistakes::none()).await?);
    }
    let next = room::next(write.db(), device.room_id, &before, &signed.duties).await?;
    let after = format!("{} (at the tablet “{}”)", signed.written.join("; "), device.name);
    write.commit(Change::new("shelf.fed", format!("shelf {shelf}"), after), &next).await?;
    if refused.is_empty() {
        return Ok(redirect(&next));
    }
    // Told at once, since a tablet keeps no word for its next page.
    page(&RoomPage::build(app, device, signed.written.len(), refused, Mistakes::none()).await?)
}
