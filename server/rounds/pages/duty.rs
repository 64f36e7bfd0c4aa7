//! The page of one duty: what to know, how it may end, and the form that its kind needs.

use askama::Template;
use axum::extract::State;

use super::forms::{CountForm, GroupForm, HandsForm, MoultForm, QuickForm};
use super::found::FoundForm;
use super::next::{NoFields, sign_one};
use super::readings::ReadingsForm;
use super::stop::{Stop, causes};
use crate::handling::model::AssessmentOutcome;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Form, Mistakes};
use crate::house::ids::DutyId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::text;
use crate::reckoning::hazard::rehouse_checklist;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{DutyKind, Exposure, SpanMethod};
use crate::rooms::model::Rack;
use crate::rounds::model::prey::UsualBook;
use crate::rounds::model::{Detail, Duty, DutyState, NewSignoff, Outcome};
use crate::rounds::store;
use crate::staff::passphrase;
use crate::{animals, rooms, staff};

/// What was typed on the page, in whichever of its forms.
#[derive(Default)]
struct Typed {
    quick: QuickForm,
    moult: MoultForm,
    group: GroupForm,
    count: CountForm,
    hands: HandsForm,
    found: FoundForm,
    readings: ReadingsForm,
}

/// One stage of a cohort, with what the book has there.
struct StageLine {
    stage: Stage,
    book: String,
}

#[derive(Template)]
#[template(path = "rounds/duty.html")]
struct DutyPage {
    layout: Layout,
    stop: Stop,
    missing: Option<String>,
    typed: Typed,
    mistakes: Mistakes,
    stages: Vec<StageLine>,
    /// The lines that must be ticked.
    ticks: Vec<String>,
    /// What to have at hand where nothing needs a tick.
    tools: Vec<&'static str>,
    /// What the rules of size ask of the new box, in a sentence.
    wanted: Option<String>,
    racks: Vec<Rack>,
    shelves: Vec<Choice>,
    seconds: Vec<Choice>,
    methods: Vec<Choice>,
    causes: Vec<Choice>,
    prey_kinds: Vec<Choice>,
}

impl DutyPage {
    async fn build(app: &App, me: &SignedIn, id: DutyId, typed: Typed, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let (today, zone) = (app.today(), app.site().zone);
        let duty = store::require(&mut db, id).await?;
        if duty.state != DutyState::Open {
            return Err(AppError::Conflict(store::how_it_ended(&mut db, &duty, &zone).await?));
        }
        let known = store::known_of(&mut db, duty.subject(), app.now(), zone).await?;
        let missing = store::shortfall(&mut db, me.id(), &duty, today).await?;
        let stages = known.cohort(duty.subject()).map_or_else(Vec::new, |facts| stage_lines(&facts.counts, duty.kind));
        let lists = duty.exposure == Exposure::HandsIn && !duty.needs_checklist();
        let tools = known.hazard(duty.subject()).filter(|_| lists).map(rehouse_checklist).unwrap_or_default();
        let ticks = store::checklist_of(&mut db, &duty, store::When { at: app.now(), today, zone }).await?;
        let wanted = match duty.animal_id.filter(|_| duty.kind == DutyKind::Rehouse) {
            Some(animal) => store::wanted_size(&mut db, animal).await?,
            None => None,
        };
        let usual = store::prey::usual_book(&mut db).await?;
        let team = staff::store::active(&mut db).await?;
        let shelves = rooms::store::shelves(&mut db).await?;
        let racks = match duty.room_id {
            Some(room) => rooms::store::racks(&mut db).await?.into_iter().filter(|rack| rack.room_id == room).collect(),
            None => Vec::new(),
        };
        Ok(Self {
            layout: Layout::of(app, me, Section::Round).await?,
            stop: Stop::new(duty, &known, today).fed(&usual),
            prey_kinds: prey_kinds(&usual),
            missing,
            typed,
            mistakes,
            stages,
            ticks,
            tools,
            wanted,
            racks,
            shelves: shelves.iter().map(|shelf| Choice::new(shelf.shelf_id, &shelf.label)).collect(),
            seconds: team
                .iter()
                .filter(|one| one.has_pin && one.id != me.id() && one.roles.looks_after())
                .map(|one| Choice::new(one.id, &one.name))
                .collect(),
            methods: choices(SpanMethod::ALL, SpanMethod::code),
            causes: causes(),
        })
    }

    /// How a supervised rehouse can go.
    fn assessments(&self) -> Vec<Choice> {
        choices(AssessmentOutcome::ALL, AssessmentOutcome::code)
    }

    /// Whether it can be broken off: a normal end of a rehouse, always open to whoever is cleared.
    fn breaks_off(&self) -> bool {
        self.stop.can_be_broken_off() && self.missing.is_none()
    }

    /// Which form the kind of the duty needs besides its buttons.
    fn form(&self) -> &'static str {
        let duty = &self.stop.duty;
        match (duty.kind, duty.cohort_id.is_some()) {
            _ if duty.held.is_some() || self.missing.is_some() => "",
            (DutyKind::MoultCheck, false) => "moult",
            (DutyKind::Feed | DutyKind::MoultCheck, true) => "group",
            (DutyKind::CohortCount, _) => "count",
            (DutyKind::Rehouse, _) => "hands",
            (DutyKind::SacCheck, _) if duty.exposure == Exposure::HandsIn => "hands",
            (DutyKind::SacCheck, _) if duty.exposure == Exposure::Open => "legs",
            (DutyKind::SacTurn, _) => "legs",
            (DutyKind::RoomReading, _) => "readings",
            _ => "",
        }
    }
}

/// What a meal can take from stock: what is usual, another kind, or nothing. Without a list there is nothing to choose.
pub(super) fn prey_kinds(usual: &UsualBook) -> Vec<Choice> {
    if usual.kinds.is_empty() {
        return Vec::new();
    }
    let mut kinds = vec![Choice::new("", "as usual")];
    kinds.extend(usual.kinds.iter().map(|kind| Choice::new(kind.id, kind.label())));
    kinds.push(Choice::new("none", "nothing from stock"));
    kinds
}

/// The stages at which it stands; a count also offers the next one, which some may have reached.
fn stage_lines(counts: &std::collections::BTreeMap<Stage, u32>, kind: DutyKind) -> Vec<StageLine> {
    let mut lines: Vec<StageLine> = counts.iter().map(|(stage, count)| StageLine { stage: *stage, book: count.to_string() }).collect();
    if kind == DutyKind::CohortCount {
        let next: Vec<Stage> = counts.keys().filter_map(|stage| stage.next()).filter(|next| !counts.contains_key(next)).collect();
        lines.extend(next.into_iter().map(|stage| StageLine { stage, book: "0".to_owned() }));
    }
    lines
}

pub(in crate::rounds) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>) -> Answer {
    let duty = store::require(&mut *app.read().await?, id).await?;
    let mut typed = Typed::default();
    typed.moult.day = text::iso_day(&app.today());
    typed.moult.skin_kept = "yes".to_owned();
    if let Some(animal) = duty.animal_id {
        let animal = animals::store::require(&mut *app.read().await?, animal).await?;
        typed.hands.shelf = animal.shelf_id.map(|shelf| shelf.to_string()).unwrap_or_default();
        typed.hands.position = animal.position.map(|position| position.to_string()).unwrap_or_default();
    }
    page(&DutyPage::build(&app, &me, id, typed, Mistakes::none()).await?)
}

/// The page again with what was typed of something that was found.
pub(super) async fn found_again(app: &App, me: &SignedIn, id: DutyId, found: FoundForm, mistakes: Mistakes) -> Answer {
    page_again(&DutyPage::build(app, me, id, Typed { found, ..Typed::default() }, mistakes).await?)
}

/// Signs, or shows the page again with what was typed.
async fn signed_or_again(app: &App, me: &SignedIn, id: DutyId, answer: Answer, typed: Typed) -> Answer {
    match answer {
        Err(AppError::Refused(mistakes)) => page_again(&DutyPage::build(app, me, id, typed, mistakes).await?),
        answer => answer,
    }
}

async fn sign<T>(app: &App, me: &SignedIn, form: &Form<T>, new: Result<NewSignoff, Mistakes>) -> Answer {
    let new = new?;
    sign_one(me, app.begin(me.id(), &form.once).await?, &new).await
}

pub(in crate::rounds) async fn sign_quick(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<QuickForm>) -> Answer {
    let duty = store::require(&mut *app.read().await?, id).await?;
    let answer = sign(&app, &me, &form, form.input.check(&duty)).await;
    signed_or_again(&app, &me, id, answer, Typed { quick: form.input, ..Typed::default() }).await
}

pub(in crate::rounds) async fn sign_moult(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<MoultForm>) -> Answer {
    let duty = store::require(&mut *app.read().await?, id).await?;
    let answer = sign(&app, &me, &form, form.input.check(&duty, app.today())).await;
    signed_or_again(&app, &me, id, answer, Typed { moult: form.input, ..Typed::default() }).await
}

pub(in crate::rounds) async fn sign_group(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<GroupForm>) -> Answer {
    let duty = store::require(&mut *app.read().await?, id).await?;
    let answer = sign(&app, &me, &form, form.input.check(&duty)).await;
    signed_or_again(&app, &me, id, answer, Typed { group: form.input, ..Typed::default() }).await
}

pub(in crate::rounds) async fn sign_count(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<CountForm>) -> Answer {
    let duty = store::require(&mut *app.read().await?, id).await?;
    let answer = sign(&app, &me, &form, form.input.check(&duty)).await;
    signed_or_again(&app, &me, id, answer, Typed { count: form.input, ..Typed::default() }).await
}

pub(in crate::rounds) async fn sign_readings(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<DutyId>,
    form: Form<ReadingsForm>,
) -> Answer {
    let duty = store::require(&mut *app.read().await?, id).await?;
    let answer = sign(&app, &me, &form, form.input.check(&duty)).await;
    signed_or_again(&app, &me, id, answer, Typed { readings: form.input, ..Typed::default() }).await
}

/// The work is done, and what is in the sac is no longer eggs.
pub(in crate::rounds) async fn legs_out(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<NoFields>) -> Answer {
    let new = NewSignoff::plain(id, Outcome::Done).with(Detail::LegsOut);
    let answer = sign(&app, &me, &form, Ok(new)).await;
    signed_or_again(&app, &me, id, answer, Typed::default()).await
}

pub(in crate::rounds) async fn hands_in(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<HandsForm>) -> Answer {
    let duty = store::require(&mut *app.read().await?, id).await?;
    let confirmed = confirm(&app, &me, &duty, form.input.check(&duty), &form.input.pin).await;
    let answer = match confirmed {
        Ok(new) => sign(&app, &me, &form, Ok(new)).await,
        Err(error) => Err(error),
    };
    signed_or_again(&app, &me, id, answer, Typed { hands: form.input, ..Typed::default() }).await
}

/// The second person's PIN, which they type themselves on this screen. Whatever else is not ready is named with it.
async fn confirm(app: &App, me: &SignedIn, duty: &Duty, new: Result<NewSignoff, Mistakes>, pin: &str) -> Result<NewSignoff, AppError> {
    let new = new?;
    let Some(second) = new.second else { return Ok(new) };
    let why = match passphrase::verify_pin(app, second, pin).await {
        Ok(true) => return Ok(new),
        Ok(false) => "This is not the second person's PIN. They enter it themselves.".to_owned(),
        Err(AppError::TooMany(why)) => why,
        Err(other) => return Err(other),
    };
    let when = store::When { at: app.now(), today: app.today(), zone: app.site().zone };
    let mut mistakes = store::faults(&mut *app.read().await?, me.id(), duty, &new, when).await?;
    mistakes.add("pin", why);
    Err(mistakes.into())
}
