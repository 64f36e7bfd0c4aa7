//! Everything of one kind that is due in a rack, signed at once: the usual end unless something else is chosen. What can
//! hurt somebody is never taken for granted: each animal of the highest band is looked at and ticked by itself.

use std::collections::HashMap;

use askama::Template;
use axum::extract::State;

use super::intake;
use super::next::{next_stop, round_ids};
use super::round::rack_place;
use super::stop::Stop;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Fields, Form, Mistakes};
use crate::house::ids::{DutyId, RackId, ShelfId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::write::Write;
use crate::reckoning::words::{DutyKind, Exposure};
use crate::rounds::model::arrival::Arrival;
use crate::rounds::model::{Duty, Outcome};
use crate::rounds::store;

/// The band from which an animal is never signed unseen among others.
const LOOKED_AT_BY_ITSELF: i64 = 3;

/// What was chosen for the stops of a batch, by duty.
pub(super) type Chosen = HashMap<DutyId, String>;

/// The stops of one rack that one form signs.
pub(super) struct Batch {
    pub(super) rack: RackId,
    pub(super) place: String,
    pub(super) kind: DutyKind,
    pub(super) stops: Vec<Stop>,
    pub(super) chosen: Chosen,
}

/// A shelf's heading in a batch, with how many of its stops follow.
pub(super) struct ShelfHead {
    pub(super) shelf: ShelfId,
    pub(super) number: String,
    pub(super) stops: usize,
}

impl Batch {
    /// Whether a stop can stand in a batch: it ends with a tap, and the animal stands in a rack.
    pub(super) fn takes(stop: &Stop) -> bool {
        !stop.buttons.is_empty() && stop.duty.rack_id.is_some() && stop.duty.persons == 1
    }

    pub(super) fn of(stops: Vec<Stop>) -> Option<Self> {
        let first = &stops.first()?.duty;
        Some(Self { rack: first.rack_id?, place: rack_place(first), kind: first.kind, chosen: Chosen::new(), stops })
    }

    pub(super) fn path(&self) -> String {
        format!("/round/racks/{}/{}", self.rack, self.kind.code())
    }

    /// How many must be looked at one by one.
    pub(super) fn dangerous(&self) -> usize {
        self.stops.iter().filter(|stop| looked_at(&stop.duty)).count()
    }

    /// What happens when nothing else is chosen: `All 40 took it`, or `Sign 40` where some must be chosen first.
    pub(super) fn button(&self) -> String {
        let count = self.stops.len();
        let usual = self.stops.first().and_then(usual);
        let alike = self.chosen.is_empty() && self.dangerous() == 0 && self.stops.iter().all(|stop| self::usual(stop) == usual);
        match usual.filter(|_| alike) {
            Some(Outcome::Took) if self.kind == DutyKind::Feed => format!("All {count} took it"),
            Some(Outcome::Refused) => format!("All {count} taken out"),
            Some(Outcome::Normal) => format!("No change in all {count}"),
            Some(Outcome::Done) => format!("All {count} done"),
            _ => format!("Sign {count}"),
        }
    }

    /// Whether an end is the one that is marked at first.
    pub(super) fn marked(&self, stop: &Stop, outcome: &Outcome) -> bool {
        match self.chosen.get(&stop.duty.id) {
            Some(chosen) => chosen == outcome.code(),
            None => !looked_at(&stop.duty) && usual(stop) == Some(*outcome),
        }
    }

    /// Whether it was chosen to leave a stop for later.
    pub(super) fn left(&self, duty: &Duty) -> bool {
        self.chosen.get(&duty.id).is_some_and(|chosen| chosen == LEAVE)
    }

    /// The head of a shelf before its first stop, where the rack has stops on several.
    pub(super) fn head(&self, place: &usize) -> Option<ShelfHead> {
        let shelf = |stop: &Stop| stop.duty.shelf_id;
        let here = self.stops.get(*place).and_then(shelf)?;
        let several = self.stops.iter().any(|stop| shelf(stop) != Some(here));
        let first = self.stops.iter().position(|stop| shelf(stop) == Some(here)) == Some(*place);
        let number =
            self.stops.get(*place).and_then(|stop| stop.duty.place.as_ref()?.rsplit_once(" · ").map(|(_, number)| number.to_owned()));
        (several && first).then(|| ShelfHead {
            shelf: here,
            number: number.unwrap_or_default(),
            stops: self.stops.iter().filter(|stop| shelf(stop) == Some(here)).count(),
        })
    }
}

/// Whether an animal must be looked at by itself: the highest band, with its lid off.
fn looked_at(duty: &Duty) -> bool {
    duty.band >= LOOKED_AT_BY_ITSELF && duty.exposure > Exposure::Look
}

/// How a stop ends as a rule: prey that was left in was not eaten; otherwise its first button.
fn usual(stop: &Stop) -> Option<Outcome> {
    let usual = |(outcome, _): &&(Outcome, &str)| stop.duty.kind != DutyKind::ClearUneaten || *outcome == Outcome::Refused;
    stop.buttons.iter().find(usual).map(|(outcome, _)| *outcome)
}

/// What leaves a stop as it is.
const LEAVE: &str = "leave";

#[derive(Template)]
#[template(path = "rounds/batch.html")]
struct BatchPage {
    layout: Layout,
    batch: Batch,
    mistakes: Mistakes,
}

async fn batch(app: &App, me: &SignedIn, rack: RackId, kind: DutyKind) -> Result<Option<Batch>, AppError> {
    let mut db = app.read().await?;
    let mine = store::round_of(&mut db, me.id()).await?;
    let known = store::known(&mut db, app.now(), app.site().zone).await?;
    let here = mine.into_iter().filter(|duty| duty.rack_id == Some(rack) && duty.kind == kind);
    let usual = store::prey::usual_book(&mut db).await?;
    let stops = here.map(|duty| Stop::new(duty, &known, app.today()).fed(&usual)).filter(Batch::takes).collect();
    Ok(Batch::of(stops))
}

pub(in crate::rounds) async fn show_batch(State(app): State<App>, me: SignedIn, Path((rack, kind)): Path<(RackId, DutyKind)>) -> Answer {
    let batch = batch(&app, &me, rack, kind).await?.ok_or(AppError::NotFound)?;
    page(&BatchPage { layout: Layout::of(&app, &me, Section::Round).await?, batch, mistakes: Mistakes::none() })
}

pub(in crate::rounds) async fn sign_batch(
    State(app): State<App>,
    me: SignedIn,
    Path((rack, kind)): Path<(RackId, DutyKind)>,
    form: Form<Fields>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    match sign(&me, &mut write, (rack, kind), &form.input).await {
        Ok(Some(told)) => told.tell(&me, write).await,
        Ok(None) => Err(AppError::conflict("Nothing was chosen, so nothing was written. Open your round again and choose.")),
        Err(AppError::Refused(mistakes)) => {
            drop(write);
            let Some(mut batch) = batch(&app, &me, rack, kind).await? else { return Err(AppError::Refused(mistakes)) };
            batch.chosen = chosen(&form.input);
            page_again(&BatchPage { layout: Layout::of(&app, &me, Section::Round).await?, batch, mistakes })
        }
        Err(other) => Err(other),
    }
}

/// What a batch wrote, and what it did not.
struct Told {
    place: String,
    subject: String,
    written: Vec<String>,
    refused: Vec<String>,
    next: String,
}

impl Told {
    async fn tell(self, me: &SignedIn, write: Write) -> Answer {
        let refused = self.refused.join(" ");
        if self.written.is_empty() {
            return Err(AppError::Conflict(refused));
        }
        let outcomes = self.written.iter().filter_map(|words| Some(words.rsplit_once(": ")?.1.to_owned())).collect();
        let say = super::round::counted(outcomes);
        write.commit(Change::new("rack.signed", self.subject, self.written.join("; ")), &self.next).await?;
        me.visit.flash(format!("{}: {say}.", self.place), false).await?;
        if !refused.is_empty() {
            me.visit.flash(format!("Not written: {refused}"), true).await?;
        }
        Ok(redirect(&self.next))
    }
}

/// What was chosen on a form that comes back.
pub(super) fn chosen(fields: &Fields) -> Chosen {
    let of = |(name, value): &(String, String)| Some((name.strip_prefix("outcome-")?.parse().ok()?, value.clone()));
    fields.iter().filter_map(of).collect()
}

async fn sign(me: &SignedIn, write: &mut Write, of: (RackId, DutyKind), fields: &Fields) -> Result<Option<Told>, AppError> {
    let before = round_ids(write, me).await?;
    let (mut asked, shelf) = intake::Batch::read(fields)?;
    let duties = listed(write, of, &asked).await?;
    let meant = |id: &DutyId| shelf.is_none_or(|shelf| duties.iter().any(|duty| duty.id == *id && duty.shelf_id == Some(shelf)));
    asked.chosen.retain(|(id, _)| meant(id));
    asked.unseen.retain(meant);
    if !asked.unseen.is_empty() {
        return Err(unseen(&duties, &asked.unseen));
    }
    let Some(first) = duties.first().filter(|_| !asked.chosen.is_empty()) else { return Ok(None) };
    let signed = asked.sign(write, Arrival::Live).await?;
    let ids: Vec<DutyId> = asked.chosen.iter().map(|(id, _)| *id).collect();
    let next = next_stop(write, me, &before, &ids).await?;
    let refused = signed.refused.into_iter().map(|(_, _, why)| why).collect();
    Ok(Some(Told { place: rack_place(first), subject: format!("rack {}", of.0), written: signed.written, refused, next }))
}

/// The duties on the form, each of which is of this rack and kind.
async fn listed(write: &mut Write, (rack, kind): (RackId, DutyKind), asked: &intake::Batch) -> Result<Vec<Duty>, AppError> {
    let mut duties = Vec::new();
    for id in asked.chosen.iter().map(|(id, _)| id).chain(&asked.unseen) {
        let duty = store::require(write.db(), *id).await?;
        if duty.rack_id.is_some_and(|stands| stands != rack) || duty.kind != kind || duty.needs_checklist() {
            return Err(AppError::BadRequest("A duty on this form is not one of this rack and kind. Open your round again.".to_owned()));
        }
        duties.push(duty);
    }
    Ok(duties)
}

fn unseen(duties: &[Duty], unseen: &[DutyId]) -> AppError {
    let named: Vec<&str> = duties.iter().filter(|duty| unseen.contains(&duty.id)).map(|duty| duty.label.as_str()).collect();
    let message = format!("Look at each of these and choose what became of it, or “Not now”: {}. Nothing was written.", named.join(", "));
    AppError::refused("outcome", message)
}
