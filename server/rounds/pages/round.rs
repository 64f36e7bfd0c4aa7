//! One person's duties in walking order, rack by rack, and the free ones that they may take.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use super::batch::Batch;
use super::stop::Stop;
use crate::handling;
use crate::handling::model::RehousePlan;
use crate::house::access::May;
use crate::house::app::App;
use crate::house::errors::{Answer, redirect};
use crate::house::extract::SignedIn;
use crate::house::ids::RackId;
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::rounds::model::finding::Finding;
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

/// The stops in one rack: those that a form signs together, and the others by themselves.
struct RackStops {
    place: String,
    batches: Vec<Batch>,
    alone: Vec<Stop>,
}

/// How far the day's round has got.
struct Progress {
    done: i64,
    open: i64,
    late: usize,
    seconds: i64,
}

impl Progress {
    fn of(mine: &[Duty], done: i64, today: NaiveDate) -> Self {
        Self {
            done,
            open: i64::try_from(mine.len()).unwrap_or(i64::MAX),
            late: mine.iter().filter(|duty| duty.is_late(&today)).count(),
            seconds: mine.iter().filter(|duty| duty.held.is_none()).map(|duty| duty.seconds).sum(),
        }
    }

    fn all(&self) -> i64 {
        self.done.saturating_add(self.open)
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
    progress: Progress,
    next: Option<(String, String)>,
    racks: Vec<RackStops>,
    seconded: Vec<Duty>,
    rehouses: Vec<RehousePlan>,
    free: Vec<FreeRack>,
    out_of_reach: usize,
    can_undo: Vec<Signoff>,
    found: Vec<Finding>,
    not_written: i64,
    zone: chrono_tz::Tz,
}

pub(in crate::rounds) async fn round(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let (today, now, zone) = (app.today(), app.now(), app.site().zone);
    let known = store::known(&mut db, now, zone).await?;
    let usual = store::prey::usual_book(&mut db).await?;
    let mine = store::round_of(&mut db, me.id()).await?;
    let level = handling::store::level_on(&mut db, me.id(), today).await?;
    let free: Vec<Duty> = store::open(&mut db).await?.into_iter().filter(|duty| duty.assigned_to.is_none()).collect();
    let (reachable, above): (Vec<Duty>, Vec<Duty>) = free.into_iter().partition(|duty| duty.clearance <= level);
    let progress = Progress::of(&mine, store::signed_on(&mut db, me.id(), today).await?, today);
    let next = mine.iter().find(|duty| duty.held.is_none()).map(|duty| (format!("#duty-{}", duty.id), next_words(duty)));
    let not_written = store::queue::count_unsettled(&mut db, Some(me.id())).await?;
    page(&RoundPage {
        layout: Layout::of(&app, &me, Section::Round).await?,
        today,
        progress,
        next,
        racks: by_rack(mine.into_iter().map(|duty| Stop::new(duty, &known, today).fed(&usual)).collect()),
        seconded: store::second_of(&mut db, me.id()).await?,
        rehouses: handling::store::planned_for(&mut db, me.id(), today).await?,
        free: free_racks(&reachable),
        out_of_reach: above.len(),
        can_undo: store::can_undo(&mut db, me.id(), now).await?,
        found: store::findings_to_undo(&mut db, me.id(), now).await?,
        not_written,
        zone,
    })
}

/// The next stop: `Feed T-5, Quiet room · Elm · shelf 1`.
fn next_words(duty: &Duty) -> String {
    let place = duty.place.as_ref().map_or_else(String::new, |place| format!(", {place}"));
    format!("{}{place}", duty.name())
}

/// Racks in walking order. Two or more of a kind that end with a tap are signed together.
fn by_rack(stops: Vec<Stop>) -> Vec<RackStops> {
    let mut racks: Vec<(Option<RackId>, String, Vec<Stop>)> = Vec::new();
    for stop in stops {
        match racks.last_mut().filter(|(rack, place, _)| *rack == stop.duty.rack_id && *place == rack_place(&stop.duty)) {
            Some((_, _, last)) => last.push(stop),
            None => racks.push((stop.duty.rack_id, rack_place(&stop.duty), vec![stop])),
        }
    }
    racks.into_iter().map(|(_, place, stops)| in_rack(place, stops)).collect()
}

fn in_rack(place: String, stops: Vec<Stop>) -> RackStops {
    let (mut together, mut alone): (Vec<Stop>, Vec<Stop>) = stops.into_iter().partition(Batch::takes);
    // By kind, and within a kind in walking order.
    together.sort_by_key(|stop| stop.duty.kind);
    let mut batches = Vec::new();
    while let Some(kind) = together.first().map(|stop| stop.duty.kind) {
        let split = together.iter().position(|stop| stop.duty.kind != kind).unwrap_or(together.len());
        let rest = together.split_off(split);
        let same = std::mem::replace(&mut together, rest);
        if same.len() < 2 {
            alone.extend(same);
        } else {
            batches.extend(Batch::of(same));
        }
    }
    RackStops { place, batches, alone }
}

/// Racks in walking order; what stands nowhere comes as rack 0.
fn free_racks(duties: &[Duty]) -> Vec<FreeRack> {
    let mut racks: Vec<(FreeRack, Vec<String>)> = Vec::new();
    for duty in racks_first(duties) {
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

/// Duties in racks as they come, then those of rooms and of what stands nowhere, so that these make one group.
pub(super) fn racks_first(duties: &[Duty]) -> impl Iterator<Item = &Duty> {
    let in_rack = |duty: &&Duty| duty.rack_id.is_some();
    duties.iter().filter(in_rack).chain(duties.iter().filter(move |duty| !in_rack(duty)))
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
