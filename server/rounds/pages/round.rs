//! One person's duties in walking order, and the free ones that they may take.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use super::stop::Stop;
use crate::handling;
use crate::house::access::May;
use crate::house::app::App;
use crate::house::errors::{Answer, redirect};
use crate::house::extract::SignedIn;
use crate::house::ids::{RackId, ShelfId};
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::rounds::model::{Duty, Signoff};
use crate::rounds::store;

/// The first page after signing in, by role.
pub(in crate::rounds) async fn home(me: SignedIn) -> Answer {
    let member = &me.member;
    let first = if May::Lead.allows(member) {
        paths::TODAY
    } else if May::Keep.allows(member) {
        paths::ROUND
    } else if May::Sell.allows(member) {
        paths::SALES
    } else {
        paths::ANIMALS
    };
    Ok(redirect(first))
}

/// The stops on one shelf.
struct ShelfStops {
    place: String,
    shelf: Option<ShelfId>,
    stops: Vec<Stop>,
}

impl ShelfStops {
    /// The feeds that can be signed off at once.
    fn feeds(&self) -> Vec<&Duty> {
        self.stops.iter().map(|stop| &stop.duty).filter(|duty| store::is_free_feed(duty)).collect()
    }

    /// The feeds of the highest band, which are read by name first.
    fn dangerous(&self) -> usize {
        self.feeds().iter().filter(|duty| duty.band >= 3).count()
    }
}

/// The free duties of one rack that this person may take.
struct FreeRack {
    place: String,
    rack: RackId,
    duties: usize,
    seconds: i64,
    kinds: String,
}

#[derive(Template)]
#[template(path = "rounds/round.html")]
struct RoundPage {
    layout: Layout,
    today: NaiveDate,
    shelves: Vec<ShelfStops>,
    duties: usize,
    late: usize,
    seconds: i64,
    free: Vec<FreeRack>,
    out_of_reach: usize,
    can_undo: Vec<Signoff>,
    zone: chrono_tz::Tz,
}

pub(in crate::rounds) async fn round(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let (today, now, zone) = (app.today(), app.now(), app.site().zone);
    let known = store::known(&mut db, now, zone).await?;
    let mine = store::round_of(&mut db, me.id()).await?;
    let level = handling::store::level_on(&mut db, me.id(), today).await?;
    let free: Vec<Duty> = store::open(&mut db).await?.into_iter().filter(|duty| duty.assigned_to.is_none()).collect();
    let (reachable, above): (Vec<Duty>, Vec<Duty>) = free.into_iter().partition(|duty| duty.clearance <= level);
    let can_undo = store::can_undo(&mut db, me.id(), now).await?;
    page(&RoundPage {
        layout: Layout::of(&app, &me, Section::Round).await?,
        today,
        duties: mine.len(),
        late: mine.iter().filter(|duty| duty.is_late(&today)).count(),
        seconds: mine.iter().map(|duty| duty.seconds).sum(),
        shelves: by_shelf(mine.into_iter().map(|duty| Stop::new(duty, &known, today)).collect()),
        free: by_rack(&reachable),
        out_of_reach: above.len(),
        can_undo,
        zone,
    })
}

fn by_shelf(stops: Vec<Stop>) -> Vec<ShelfStops> {
    let mut shelves: Vec<ShelfStops> = Vec::new();
    for stop in stops {
        match shelves.last_mut().filter(|last| last.shelf == stop.duty.shelf_id) {
            Some(last) => last.stops.push(stop),
            None => {
                let place = stop.duty.place.clone().unwrap_or_else(|| "No place noted".to_owned());
                shelves.push(ShelfStops { place, shelf: stop.duty.shelf_id, stops: vec![stop] });
            }
        }
    }
    shelves
}

/// Racks in walking order; what stands nowhere comes as rack 0.
fn by_rack(duties: &[Duty]) -> Vec<FreeRack> {
    let mut racks: Vec<(FreeRack, Vec<String>)> = Vec::new();
    for duty in duties {
        let rack = duty.rack_id.unwrap_or(RackId(0));
        if racks.last().is_none_or(|(last, _)| last.rack != rack) {
            let place = rack_place(duty);
            racks.push((FreeRack { place, rack, duties: 0, seconds: 0, kinds: String::new() }, Vec::new()));
        }
        if let Some((last, kinds)) = racks.last_mut() {
            last.duties += 1;
            last.seconds += duty.seconds;
            kinds.push(duty.kind.label().to_lowercase());
        }
    }
    racks.into_iter().map(|(rack, kinds)| FreeRack { kinds: counted(kinds), ..rack }).collect()
}

/// A duty's room and rack in words.
pub(super) fn rack_place(duty: &Duty) -> String {
    if duty.room_id.is_some() {
        return "Climate of the rooms".to_owned();
    }
    let place = duty.place.clone().unwrap_or_else(|| "No place noted".to_owned());
    place.rsplit_once(" · shelf ").map_or(place.clone(), |(rack, _)| rack.to_owned())
}

/// `12 feed, 3 water`.
pub(super) fn counted(mut words: Vec<String>) -> String {
    words.sort();
    words.chunk_by(|a, b| a == b).filter_map(|same| Some(format!("{} {}", same.len(), same.first()?))).collect::<Vec<_>>().join(", ")
}
