//! An animal's page: cautions first, then what it is, what is due, and what happened to it.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::growth::Coming;
use super::subject::Subject;
use crate::animals::model::holdback::HoldbackEntry;
use crate::animals::model::list::{Ancestry, OpenDuty};
use crate::animals::model::timeline::{Day, Entry, EntryKind, by_day};
use crate::animals::model::{Animal, AnimalStatus, Origin};
use crate::animals::store;
use crate::breeding::model::lines::OfLine;
use crate::breeding::model::pairing::{MixedLine, PairAgain, SireCandidate};
use crate::handling::model::{Caution, Hold};
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::ids::AnimalId;
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::papers::model::PaperLine;
use crate::reckoning::condition::{Condition, Scored};
use crate::reckoning::enclosure::BoxRules;
use crate::reckoning::planner::{FeedState, feed_state};
use crate::reckoning::words::{LifeStage, MoultState};
use crate::sales::model::{Item, Reservation};
use crate::{breeding, handling, papers, rounds, sales};

/// How many days of the timeline a page shows at first.
const DAYS_SHOWN: usize = 40;

/// One fact: its name, its value, and what that rests on.
struct Fact {
    label: &'static str,
    value: String,
    basis: String,
}

impl Fact {
    fn new(label: &'static str, value: impl Into<String>) -> Self {
        Self { label, value: value.into(), basis: String::new() }
    }

    fn resting_on(mut self, basis: impl Into<String>) -> Self {
        self.basis = basis.into();
        self
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::animals) struct Asked {
    all: String,
}

#[derive(Template)]
#[template(path = "animals/show.html")]
struct ShowPage {
    layout: Layout,
    subject: Subject,
    today: NaiveDate,
    facts: Vec<Fact>,
    coming: Coming,
    lineage: Vec<Ancestry>,
    duties: Vec<OpenDuty>,
    days: Vec<Day>,
    more_days: usize,
    left_in: bool,
    cautions: Vec<Caution>,
    holds: Vec<Hold>,
    mixed: Option<MixedLine>,
    candidates: Vec<SireCandidate>,
    again: Option<PairAgain>,
    held_back: Option<HoldbackEntry>,
    papers: Vec<PaperLine>,
    reserved: Vec<Reservation>,
}

impl ShowPage {
    /// Whether this member may strike out an entry: a lead any, others their own.
    fn may_strike(&self, entry: &Entry) -> bool {
        let me = self.layout.member.as_ref().map(|member| member.id);
        entry.can_be_struck() && self.layout.keeps() && (self.layout.leads() || entry.member_id == me)
    }

    fn escaped(&self) -> bool {
        self.subject.animal.status == AnimalStatus::Escaped
    }
}

pub(in crate::animals) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>, Query(asked): Query<Asked>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    let mut db = app.read().await?;
    let entries = store::timeline(&mut db, id, app.site().zone).await?;
    let coming = Coming::load(&app, &mut db, &subject.animal).await?;
    let held_back = store::held_back(&mut db, id).await?;
    let mut facts = facts(&app, &mut db, &subject.animal, &entries, &coming).await?;
    facts.extend(held_back.as_ref().map(held));
    facts.push(of_line(&breeding::store::line_of(&mut db, id).await?));
    let mut days = by_day(entries);
    let more_days = if asked.all == "yes" { 0 } else { days.len().saturating_sub(DAYS_SHOWN) };
    days.truncate(days.len() - more_days);
    let candidates = match breeding::store::sac_of_animal(&mut db, id).await? {
        Some(sac) => breeding::store::sire_candidates(&mut db, sac).await?,
        None => Vec::new(),
    };
    page(&ShowPage {
        today: app.today(),
        mixed: breeding::store::mixed_line_of_animal(&mut db, id).await?,
        again: breeding::store::pair_again_of(&mut db, id, app.today()).await?,
        candidates,
        facts,
        coming,
        lineage: store::lineage(&mut db, id).await?,
        duties: store::open_duties(&mut db, id).await?,
        days,
        more_days,
        left_in: store::left_in_since(&mut db, id).await?.is_some(),
        cautions: handling::store::cautions_of(&mut db, id).await?,
        holds: handling::store::holds_of_animal(&mut db, id, app.now()).await?,
        papers: papers::store::of_animal(&mut db, id).await?,
        reserved: sales::store::who_has::standing_of(&mut db, Item::Animal(id), app.today()).await?,
        layout: Layout::of(&app, &me, Section::Animals).await?,
        held_back,
        subject,
    })
}

async fn facts(
    app: &App,
    db: &mut sqlx::SqliteConnection,
    animal: &Animal,
    entries: &[Entry],
    coming: &Coming,
) -> Result<Vec<Fact>, AppError> {
    let today = app.today();
    let mut boxes = BoxRules::default();
    let mut facts = body(animal, today);
    facts.extend(next_moult(animal, coming));
    facts.push(last_meal(entries, today));
    if let Some(known) = present(rounds::store::animal_facts(&mut *db, animal.id, app.now(), app.site().zone).await)?.flatten() {
        facts.push(next_feed(&feed_state(&known, today)));
        facts.extend(known.condition.map(|scored| condition(scored, today)));
        boxes = known.care.rules(known.life_stage).boxes;
    }
    facts.extend(place(animal, &boxes));
    facts.extend(origin(animal));
    Ok(facts)
}

fn held(entry: &HoldbackEntry) -> Fact {
    Fact::new("Held back", format!("for breeding since {}", text::day(&entry.day))).resting_on(entry.reason.clone())
}

fn of_line(line: &OfLine) -> Fact {
    Fact::new("Line", line.told()).resting_on(line.basis())
}

/// What may be missing from the book without the page failing.
fn present<T>(read: Result<T, AppError>) -> Result<Option<T>, AppError> {
    match read {
        Ok(value) => Ok(Some(value)),
        Err(AppError::NotFound) => Ok(None),
        Err(error) => Err(error),
    }
}

fn dated(day: NaiveDate, today: NaiveDate) -> String {
    format!("{} ({})", text::day(&day), text::from_today(&day, &today))
}

fn body(animal: &Animal, today: NaiveDate) -> Vec<Fact> {
    let mut facts = Vec::new();
    if let Some(left) = animal.status_on {
        let cause = animal.loss_cause.map_or_else(String::new, |cause| format!("cause: {cause}"));
        facts.push(Fact::new("Status", format!("{}, {}", animal.status, dated(left, today))).resting_on(cause));
    }
    facts.push(Fact::new("Sex", animal.sex.to_string()).resting_on(animal.sex_basis.to_string()));
    facts.push(match (animal.span_mm, animal.span_method, animal.span_on) {
        (Some(mm), Some(method), Some(day)) => {
            Fact::new("Leg span (DLS)", text::length(&mm)).resting_on(format!("{method}, {}", dated(day, today)))
        }
        _ => Fact::new("Leg span (DLS)", "not known"),
    });
    let instar = animal.instar().map_or_else(|| "not known".to_owned(), |instar| format!("instar {instar}"));
    facts.push(Fact::new("Instar", instar).resting_on(format!("cared for as {}", animal.life_stage())));
    let moulted = animal.last_moult_on.map_or_else(|| "none on record".to_owned(), |day| dated(day, today));
    facts.push(Fact::new("Last moult", moulted));
    if animal.moult_state != MoultState::Normal {
        facts.push(Fact::new("Moult state", animal.moult_state.to_string()));
    }
    facts
}

fn next_moult(animal: &Animal, coming: &Coming) -> Option<Fact> {
    match &coming.next_moult {
        Some((when, basis)) => Some(Fact::new("Next moult", when.clone()).resting_on(basis.clone())),
        None if animal.is_alive() && animal.last_moult_on.is_none() => Some(Fact::new("Next moult", "not known: no moult on record")),
        None => None,
    }
}

fn last_meal(entries: &[Entry], today: NaiveDate) -> Fact {
    let meals = entries.iter().filter(|entry| entry.kind == EntryKind::Meal && entry.struck.is_none());
    match meals.max_by_key(|entry| (entry.day, entry.id)) {
        Some(meal) => Fact::new("Last meal", dated(meal.day, today)).resting_on(meal.words.clone()),
        None => Fact::new("Last meal", "none on record"),
    }
}

fn next_feed(state: &FeedState) -> Fact {
    match state {
        FeedState::Due { due_on, reason, .. } => Fact::new("Next feed", format!("due since {}", text::day(due_on))).resting_on(reason),
        FeedState::NotBefore { day: Some(day), reason } => Fact::new("Next feed", format!("from {}", text::day(day))).resting_on(reason),
        FeedState::NotBefore { day: None, reason } => Fact::new("Next feed", "not now").resting_on(reason),
    }
}

fn condition(scored: Scored, today: NaiveDate) -> Fact {
    let first = if scored.condition == Condition::Shrunken { ": water first, then call a senior" } else { "" };
    Fact::new("Condition", format!("{}{first}", scored.condition)).resting_on(dated(scored.day, today))
}

fn place(animal: &Animal, boxes: &BoxRules) -> Vec<Fact> {
    let mut facts = Vec::new();
    if animal.is_alive() {
        let shelf = animal.place.clone().unwrap_or_else(|| "no place yet".to_owned());
        let position = animal.position.map_or_else(String::new, |position| format!(", position {position}"));
        facts.push(Fact::new("Stands in", format!("{shelf}{position}")));
    }
    let width = animal.enclosure_width_mm.map_or_else(String::new, |width| format!(" × {}", text::length(&width)));
    let gap = animal.fall_gap_mm.map_or_else(String::new, |gap| format!(", fall gap {}", text::length(&gap)));
    let size = animal.enclosure_length_mm.map(|length| format!("{}{width}{gap}", text::length(&length)));
    facts.push(Fact::new("Enclosure", size.unwrap_or_else(|| "not measured".to_owned())).resting_on(needed(animal, boxes)));
    if !animal.rehouse_note.is_empty() {
        facts.push(Fact::new("Needs another box", animal.rehouse_note.clone()));
    }
    facts
}

/// What the enclosure should measure at this leg span.
fn needed(animal: &Animal, boxes: &BoxRules) -> String {
    let Some(span) = animal.span_mm.and_then(|span| u32::try_from(span).ok()) else {
        return "no leg span to hold it against".to_owned();
    };
    let size = boxes.needed(span);
    let length = animal.enclosure_length_mm.and_then(|length| u32::try_from(length).ok());
    let outgrown = match length {
        Some(length) if boxes.outgrown(span, length) => "outgrown: ",
        Some(length) if animal.life_stage() == LifeStage::Spiderling && boxes.too_large_for_spiderling(span, length) => {
            "so large that it loses its prey: "
        }
        _ => "",
    };
    let mm = |mm: u32| text::length(&mm.into());
    let (length, width, gap) = (mm(size.length_mm), mm(size.width_mm), mm(size.fall_gap_mm));
    format!(
        "{outgrown}needs at least {length} × {width}, and a fall gap of at most {gap} if it is heavy and terrestrial (common practice, no source)"
    )
}

fn origin(animal: &Animal) -> Vec<Fact> {
    let mut facts = vec![Fact::new("In our care since", text::day(&animal.started_on))];
    if let Some(born) = animal.born_on {
        facts.push(Fact::new("Hatched", text::day(&born)));
    }
    if animal.origin == Origin::Bought {
        facts.push(Fact::new("Bought from", animal.supplier.clone()));
        let papers = if animal.papers.is_empty() { "none on record".to_owned() } else { animal.papers.clone() };
        facts.push(Fact::new("Papers", papers));
    }
    let before = if animal.pre_convention { "/O, pre-Convention" } else { "" };
    let code = animal.source_code;
    facts.push(Fact::new("Source code", format!("{}{before}", code.code())).resting_on(code.to_string()));
    for (label, words) in [("Locality", &animal.locality), ("Note", &animal.note)] {
        if !words.is_empty() {
            facts.push(Fact::new(label, words.clone()));
        }
    }
    facts
}
