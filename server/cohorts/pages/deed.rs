//! What keepers do with a cohort, one page a deed.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::places;
use crate::cohorts::counts;
use crate::cohorts::model::{Cohort, NewCohortMove, NewLine, NewSplit, NewTags, StageCount};
use crate::cohorts::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{CohortId, ShelfId};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::write::Write;
use crate::house::{paths, text};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::LossCause;
use crate::rounds;

/// More than one sitting tags.
const MOST_TAGS: u32 = 200;

coded_enum! {
    /// A deed that has a page of its own.
    Deed, "deed" {
        Moulted = "moulted", "Moulted on";
        Lost = "lost", "Lost";
        Tagged = "tagged", "Separated and tagged";
        Held = "held-back", "Held back";
        Released = "released", "Released";
        Moved = "moved", "Moved";
        Split = "split", "Split";
    }
}

impl Deed {
    fn asks_stage(self) -> bool {
        matches!(self, Self::Moulted | Self::Lost | Self::Tagged | Self::Split)
    }

    fn asks_quantity(self) -> bool {
        self.asks_stage() || matches!(self, Self::Held | Self::Released)
    }

    fn asks_place(self) -> bool {
        matches!(self, Self::Tagged | Self::Moved | Self::Split)
    }

    fn hint(self) -> &'static str {
        match self {
            Self::Moulted => "So many went from one stage to a later one.",
            Self::Lost => "An escape is a loss, but not a death. Counted wrong is a recount, not a loss.",
            Self::Tagged => "Each becomes an animal with a tag of its own. Its labels come next.",
            Self::Held => "Kept for breeding: not for sale until released.",
            Self::Released => "For sale again.",
            Self::Moved => "The whole cohort stands elsewhere now.",
            Self::Split => "So many are counted as a cohort of their own from now on.",
        }
    }

    /// The greatest number that one entry takes.
    fn most(self) -> u32 {
        if self == Self::Tagged { MOST_TAGS } else { 100_000 }
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::cohorts) struct DeedForm {
    day: String,
    stage: String,
    to: String,
    quantity: String,
    cause: String,
    shelf: String,
    position: String,
    code: String,
    note: String,
}

/// What was entered; what the deed does not ask for keeps an empty value.
struct Entry {
    day: NaiveDate,
    stage: Stage,
    to: Stage,
    quantity: u32,
    cause: LossCause,
    shelf: Option<ShelfId>,
    position: Option<i64>,
    code: Option<String>,
    note: String,
}

impl DeedForm {
    fn check(&self, deed: Deed, today: NaiveDate) -> Result<Entry, Mistakes> {
        let mut check = Check::new();
        let stage = if deed.asks_stage() { check.choice("stage", &self.stage) } else { Some(Stage::Egg) };
        let to = if deed == Deed::Moulted { check.choice("to", &self.to) } else { Some(Stage::Egg) };
        let quantity = if deed.asks_quantity() { check.whole("quantity", &self.quantity, 1..=deed.most()) } else { Some(0) };
        let cause = if deed == Deed::Lost { check.choice("cause", &self.cause) } else { Some(LossCause::Unknown) };
        let shelf = if deed.asks_place() { check.optional_choice("shelf", &self.shelf) } else { None };
        let position = if deed.asks_place() { check.optional_whole("position", &self.position, 1..=999_i64) } else { None };
        let code = if deed == Deed::Split { counts::code(&mut check, &self.code) } else { None };
        let day = check.day("day", &self.day, today);
        let note = check.paragraphs("note", &self.note, 400);
        if deed == Deed::Moved && shelf.is_none() && check.ok() {
            check.add("shelf", "Choose where the cohort stands now.");
        }
        match (day, stage, to, quantity, cause, note) {
            (Some(day), Some(stage), Some(to), Some(quantity), Some(cause), Some(note)) if check.ok() => {
                Ok(Entry { day, stage, to, quantity, cause, shelf, position, code, note })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "cohorts/deed.html")]
struct DeedPage {
    layout: Layout,
    cohort: Cohort,
    deed: Deed,
    standing: Vec<StageCount>,
    held: i64,
    stages: Vec<Choice>,
    later: Vec<Choice>,
    causes: Vec<Choice>,
    places: Vec<Choice>,
    input: DeedForm,
    mistakes: Mistakes,
}

impl DeedPage {
    async fn of(app: &App, me: &SignedIn, id: CohortId, deed: Deed, input: DeedForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let cohort = store::require(&mut db, id).await?;
        let standing = store::standing(&mut db, id).await?;
        let lines = store::lines(&mut db, id).await?;
        let seen = |stage: Stage| lines.iter().any(|line| line.to == crate::reckoning::ledger::Bucket::Stage(stage));
        let counted = |stage: Stage| standing.iter().find(|count| count.stage == stage).map_or(0, |count| count.quantity);
        let first = standing.first().map_or(Stage::Egg, |count| count.stage);
        Ok(Self {
            layout: Layout::of(app, me, Section::Cohorts).await?,
            held: store::held_back(&mut db, id).await?,
            stages: Stage::all()
                .filter(|stage| seen(*stage))
                .map(|stage| Choice::new(stage.code(), format!("{stage} ({} now)", counted(stage))))
                .collect(),
            later: Stage::all().filter(|stage| *stage > first || seen(*stage)).map(|stage| Choice::new(stage.code(), stage)).collect(),
            causes: choices(LossCause::ALL, LossCause::code),
            places: places(&mut db).await?,
            cohort,
            deed,
            standing,
            input,
            mistakes,
        })
    }
}

pub(in crate::cohorts) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>, deed: Deed) -> Answer {
    let standing = store::standing(&mut *app.read().await?, id).await?;
    let first = standing.first().map(|count| count.stage);
    let code = |stage: Option<Stage>| stage.map(Stage::code).unwrap_or_default();
    let input = DeedForm {
        day: app.today().to_string(),
        stage: code(first),
        to: code(first.and_then(Stage::next)),
        cause: LossCause::Unknown.code().to_owned(),
        ..DeedForm::default()
    };
    page(&DeedPage::of(&app, &me, id, deed, input, Mistakes::none()).await?)
}

pub(in crate::cohorts) async fn save(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<CohortId>,
    form: Form<DeedForm>,
    deed: Deed,
) -> Answer {
    let cohort = store::require(&mut *app.read().await?, id).await?;
    match carry_out(&app, &me, &cohort, deed, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&DeedPage::of(&app, &me, id, deed, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn carry_out(app: &App, me: &SignedIn, cohort: &Cohort, deed: Deed, form: &Form<DeedForm>) -> Answer {
    let entry = form.input.check(deed, app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let Done { action, say, there } = enter(&mut write, cohort, deed, entry).await?;
    rounds::store::replan_cohort(&mut write, cohort.id).await?;
    me.done(write, Change::new(action, format!("cohort {}", cohort.id), say.as_str()), &there, say).await
}

/// What was done: its name in the audit trail, the sentence about it, and the page to show next.
struct Done {
    action: &'static str,
    say: String,
    there: String,
}

impl Done {
    fn new(action: &'static str, say: String, cohort: &Cohort) -> Self {
        Self { action, say, there: paths::cohort(&cohort.id) }
    }
}

async fn enter(write: &mut Write, cohort: &Cohort, deed: Deed, entry: Entry) -> Result<Done, AppError> {
    let Entry { day, stage, to, quantity, cause, .. } = entry;
    let (code, on) = (&cohort.code, text::day(&day));
    match deed {
        Deed::Moulted => {
            store::post(write, cohort.id, &NewLine::moulted(day, stage, to, quantity).with_note(entry.note)).await?;
            Ok(Done::new("cohort.moulted", format!("{code}: {quantity} moulted on from {stage} to {to} on {on}."), cohort))
        }
        Deed::Lost => {
            store::post(write, cohort.id, &NewLine::lost(day, stage, quantity, cause).with_note(entry.note)).await?;
            Ok(Done::new("cohort.lost", format!("{code}: {quantity} lost at {stage} on {on}, {cause}."), cohort))
        }
        Deed::Held | Deed::Released => {
            let change = if deed == Deed::Held { i64::from(quantity) } else { -i64::from(quantity) };
            store::hold_back(write, cohort.id, day, change, &entry.note).await?;
            let (action, word) = if deed == Deed::Held { ("cohort.held", "held back") } else { ("cohort.released", "released") };
            Ok(Done::new(action, format!("{code}: {quantity} {word} on {on}."), cohort))
        }
        Deed::Moved => {
            let new = NewCohortMove { day, shelf: entry.shelf, position: entry.position, signoff: None };
            store::record_move(write, cohort.id, &new).await?;
            let place = store::require(write.db(), cohort.id).await?.place.unwrap_or_default();
            Ok(Done::new("cohort.moved", format!("{code}: moved to {place} on {on}."), cohort))
        }
        Deed::Tagged => tag(write, cohort, entry).await,
        Deed::Split => split(write, cohort, entry).await,
    }
}

async fn tag(write: &mut Write, cohort: &Cohort, entry: Entry) -> Result<Done, AppError> {
    let (day, stage, quantity) = (entry.day, entry.stage, entry.quantity);
    if entry.position.is_some() {
        return Err(AppError::refused("position", "Give each animal its position on its own page; several can't share one."));
    }
    let new = NewTags { day, stage, quantity, shelf: entry.shelf, note: entry.note };
    let animals = store::separate_and_tag(write, cohort.id, &new).await?;
    for animal in &animals {
        rounds::store::replan_animal(write, *animal).await?;
    }
    let first = animals.first().copied().ok_or(AppError::NotFound)?;
    let line = store::line_of(write.db(), cohort.id, first).await?;
    let say = format!("{}: {quantity} at {stage} tagged on {}. Here are their labels.", cohort.code, text::day(&day));
    Ok(Done { action: "cohort.tagged", say, there: format!("{}/labels?line={line}", paths::cohort(&cohort.id)) })
}

async fn split(write: &mut Write, cohort: &Cohort, entry: Entry) -> Result<Done, AppError> {
    let (day, stage, quantity) = (entry.day, entry.stage, entry.quantity);
    let new = NewSplit { day, stage, quantity, code: entry.code, shelf: entry.shelf, position: entry.position, note: entry.note };
    let id = store::split(write, cohort.id, &new).await?;
    rounds::store::replan_cohort(write, id).await?;
    let code = store::require(write.db(), id).await?.code;
    let say = format!("{quantity} at {stage} went from {} into cohort {code} on {}.", cohort.code, text::day(&day));
    Ok(Done { action: "cohort.split", say, there: paths::cohort(&id) })
}
