//! What the forms of one animal share: its cautions, the places, the checks of common fields, and the way to finish.

use sqlx::SqliteConnection;

use crate::animals::model::{Animal, AnimalStatus, Enclosure, NewSpan};
use crate::animals::store;
use crate::handling;
use crate::handling::model::Hold;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::Check;
use crate::house::ids::{AnimalId, ShelfId};
use crate::house::layout::Choice;
use crate::house::write::Write;
use crate::house::{paths, text};
use crate::reckoning::hazard::{Hazard, HazardFacts, cautions_text};
use crate::reckoning::words::{Exposure, SpanKind, SpanMethod};
use crate::{rooms, rounds};

/// An animal with what a person must know before opening its box.
pub(super) struct Subject {
    pub(super) animal: Animal,
    /// Its hazard band, 0 to 3.
    pub(super) band: i64,
    /// Cautions, reasons of the band and standing holds, one line each.
    pub(super) lines: Vec<String>,
}

impl Subject {
    /// Reads the animal.
    pub(super) async fn load(app: &App, id: AnimalId) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let animal = store::require(&mut db, id).await?;
        let (facts, hazard) = store::hazard(&mut db, id).await?;
        let holds = handling::store::holds_of_animal(&mut db, id, app.now()).await?;
        Ok(Self { band: hazard.band.level().into(), lines: lines(app, &facts, &hazard, &holds), animal })
    }

    /// Reads an animal that is alive and in the house.
    pub(super) async fn living(app: &App, id: AnimalId) -> Result<Self, AppError> {
        let subject = Self::load(app, id).await?;
        if subject.animal.is_alive() {
            return Ok(subject);
        }
        let since = text::day_or_dash(&subject.animal.status_on);
        let status = subject.animal.status;
        Err(AppError::conflict(format!("This animal is in the book as {status} since {since}, so nothing more can be noted of it.")))
    }

    /// The address of its page.
    pub(super) fn path(&self) -> String {
        paths::animal(&self.animal.id)
    }
}

fn lines(app: &App, facts: &HazardFacts, hazard: &Hazard, holds: &[Hold]) -> Vec<String> {
    let mut lines: Vec<String> = holds.iter().map(|hold| held(app, hold)).collect();
    lines.extend(cautions_text(facts));
    lines.push(format!("Why this band: {}.", hazard.reasons.join("; ")));
    lines
}

fn held(app: &App, hold: &Hold) -> String {
    let until =
        hold.until_at.map_or_else(|| "until it is lifted".to_owned(), |until| format!("until {}", text::instant(&until, &app.site().zone)));
    let stops = if hold.blocks == Exposure::HandsIn { "hands in" } else { "opening" };
    let reason = if hold.reason.is_empty() { String::new() } else { format!(" ({})", hold.reason) };
    format!("Hold on {stops} {until}: {}{reason}.", hold.kind)
}

/// Refuses what would bring a person nearer than their clearance or a hold lets them: the same rules as for a duty.
pub(super) async fn may_open(app: &App, db: &mut SqliteConnection, me: &SignedIn, id: AnimalId, near: Exposure) -> Result<(), AppError> {
    let (_, hazard) = store::hazard(&mut *db, id).await?;
    let required = handling::store::exposure_table(&mut *db).await?.required(hazard.band, near);
    if handling::store::level_on(&mut *db, me.id(), app.today()).await? < i64::from(required.clearance) {
        let band = hazard.band.level();
        let level = required.clearance;
        return Err(AppError::forbidden(format!(
            "Band {band}, {near}: this needs clearance {level}, which you do not hold today. Nothing was saved."
        )));
    }
    if required.persons > 1 {
        return Err(AppError::forbidden(
            "This takes two people and a checklist. Sign it off on a round, where the second person confirms. Nothing was saved.",
        ));
    }
    let holds = handling::store::holds_of_animal(&mut *db, id, app.now()).await?;
    match holds.iter().find(|hold| hold.blocks <= near) {
        Some(hold) => Err(AppError::refused("", held(app, hold))),
        None => Ok(()),
    }
}

/// Plans the animal again, commits, and goes back to its page.
pub(super) async fn finish(me: &SignedIn, mut write: Write, id: AnimalId, change: Change, say: impl Into<String>) -> Answer {
    rounds::store::replan_animal(&mut write, id).await?;
    me.done(write, change, &paths::animal(&id), say).await
}

/// A change of an animal, as the audit trail names it.
pub(super) fn change(action: &'static str, id: AnimalId, after: impl Into<String>) -> Change {
    Change::new(action, format!("animal {id}"), after)
}

/// All shelves, and that it stands nowhere yet.
pub(super) async fn places(app: &App) -> Result<Vec<Choice>, AppError> {
    let shelves = rooms::store::shelves(&mut *app.read().await?).await?;
    let nowhere = Choice::new("", "no place yet");
    Ok(std::iter::once(nowhere).chain(shelves.into_iter().map(|shelf| Choice::new(shelf.shelf_id, shelf.label))).collect())
}

/// A shelf of the list, or none.
pub(super) fn shelf(check: &mut Check, typed: &str, places: &[Choice]) -> Option<ShelfId> {
    let typed = typed.trim();
    if !places.iter().any(|place| place.code == typed) {
        check.add("shelf", "Choose one of the list.");
        return None;
    }
    typed.parse().ok()
}

/// A leg span that may be left out.
pub(super) fn leg_span(check: &mut Check, mm: &str, method: &str) -> Option<NewSpan> {
    let mm = check.optional_whole("span_mm", mm, 1..=400)?;
    let method = check.choice::<SpanMethod>("span_method", method)?;
    Some(NewSpan { kind: SpanKind::LegSpan, mm, method })
}

/// The measures of an enclosure, as typed.
pub(super) struct TypedBox<'a> {
    pub(super) length: &'a str,
    pub(super) width: &'a str,
    pub(super) fall_gap: &'a str,
}

/// The measures of an enclosure, which may be left out as a whole.
pub(super) fn enclosure(check: &mut Check, typed: &TypedBox<'_>) -> Option<Enclosure> {
    let length = check.optional_whole("length_mm", typed.length, 10..=3000);
    let width_mm = check.optional_whole("width_mm", typed.width, 10..=3000);
    let fall_gap_mm = check.optional_whole("fall_gap_mm", typed.fall_gap, 0..=3000);
    if typed.length.trim().is_empty() && (width_mm.is_some() || fall_gap_mm.is_some()) {
        check.add("length_mm", "Give the length too.");
    }
    length.map(|length_mm| Enclosure { length_mm, width_mm, fall_gap_mm })
}

/// Statuses as the list offers them.
pub(super) fn statuses() -> Vec<Choice> {
    let mut all = vec![Choice::new("", "in the house")];
    all.extend(AnimalStatus::ALL.iter().filter(|status| **status != AnimalStatus::Alive).map(|status| Choice::new(status.code(), status)));
    all.push(Choice::new("any", "all that ever were"));
    all
}
