//! One duty at a tablet: what to know, how it ended, who signs, and their PIN, on one screen.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Deserialize;

use super::room;
use super::signer::{Signers, Typed, verify};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Path, Query};
use crate::house::forms::{Check, Fields, Form, Mistakes, Once, read_fields};
use crate::house::ids::{DutyId, SignoffId};
use crate::house::layout::{Choice, choices, page, page_again};
use crate::house::tablet::{Device, TabletFrame};
use crate::house::{paths, text};
use crate::reckoning::hazard::rehouse_checklist;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{DutyKind, Exposure, SpanMethod};
use crate::rounds::model::arrival::Arrival;
use crate::rounds::model::{DutyState, NewSignoff};
use crate::rounds::pages::duty::prey_kinds;
use crate::rounds::pages::forms::{CountForm, GroupForm, HandsForm, MoultForm, QuickForm};
use crate::rounds::pages::intake::Deed;
use crate::rounds::pages::stop::{Stop, causes};
use crate::rounds::store;
use crate::{animals, rooms};

/// What was typed of the work, in whichever of its forms.
#[derive(Default)]
struct Work {
    quick: QuickForm,
    moult: MoultForm,
    group: GroupForm,
    count: CountForm,
    hands: HandsForm,
}

impl Work {
    fn read(deed: Deed, fields: &Fields) -> Result<Self, AppError> {
        let mut work = Self::default();
        match deed {
            Deed::Quick => work.quick = read_fields(fields)?,
            Deed::Moult => work.moult = read_fields(fields)?,
            Deed::Figures => work.group = read_fields(fields)?,
            Deed::Count => work.count = read_fields(fields)?,
            Deed::HandsIn => work.hands = read_fields(fields)?,
        }
        Ok(work)
    }
}

/// One stage of a cohort, with what the book has there.
struct StageLine {
    stage: Stage,
    book: String,
}

#[derive(Template)]
#[template(path = "rounds/tablet_duty.html")]
struct DutyPage {
    layout: TabletFrame,
    stop: Stop,
    deed: Deed,
    /// The duty's other form, where it has one.
    other: Option<Deed>,
    work: Work,
    typed: Typed,
    mistakes: Mistakes,
    signers: Signers,
    stages: Vec<StageLine>,
    /// The lines that must be ticked, the house's own among them.
    ticks: Vec<String>,
    tools: Vec<&'static str>,
    /// What the rules of size ask of the new box, in a sentence.
    wanted: Option<String>,
    prey_kinds: Vec<Choice>,
    shelves: Vec<Choice>,
    methods: Vec<Choice>,
    causes: Vec<Choice>,
}

impl DutyPage {
    async fn build(
        app: &App,
        device: &Device,
        id: DutyId,
        deed: Deed,
        (work, typed): (Work, Typed),
        mistakes: Mistakes,
    ) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let (today, zone) = (app.today(), app.site().zone);
        let signers = Signers::read(&mut db, app.today()).await?;
        let duty = store::tablet::require_in_room(&mut db, device.room_id, id).await?;
        if duty.state != DutyState::Open {
            return Err(AppError::Conflict(signers.short(&store::how_it_ended(&mut db, &duty, &zone).await?)));
        }
        let known = store::known_of(&mut db, duty.subject(), app.now(), zone).await?;
        let counts = known.cohort(duty.subject()).map(|facts| facts.counts.clone()).unwrap_or_default();
        let mut stages: Vec<StageLine> = counts.iter().map(|(stage, count)| StageLine { stage: *stage, book: count.to_string() }).collect();
        if deed == Deed::Count {
            let next = counts.keys().filter_map(|stage| stage.next()).filter(|next| !counts.contains_key(next));
            stages.extend(next.map(|stage| StageLine { stage, book: "0".to_owned() }));
        }
        let lists = duty.exposure == Exposure::HandsIn && !duty.needs_checklist();
        let tools = known.hazard(duty.subject()).filter(|_| lists).map(rehouse_checklist).unwrap_or_default();
        let ticks = store::checklist_of(&mut db, &duty, store::When { at: app.now(), today, zone }).await?;
        let wanted = match duty.animal_id.filter(|_| duty.kind == DutyKind::Rehouse) {
            Some(animal) => store::wanted_size(&mut db, animal).await?,
            None => None,
        };
        let usual = store::prey::usual_book(&mut db).await?;
        let shelves = rooms::store::shelves(&mut db).await?.iter().map(|shelf| Choice::new(shelf.shelf_id, &shelf.label)).collect();
        let own = own_form(&duty).filter(|_| duty.held.is_none());
        let other = if deed == Deed::Quick { own } else { Some(Deed::Quick) };
        let (methods, causes) = (choices(SpanMethod::ALL, SpanMethod::code), causes());
        Ok(Self {
            layout: TabletFrame::of(device),
            stop: Stop::new(duty, &known, today).fed(&usual),
            prey_kinds: prey_kinds(&usual),
            deed,
            other,
            work,
            typed,
            mistakes,
            signers,
            stages,
            ticks,
            tools,
            wanted,
            shelves,
            methods,
            causes,
        })
    }

    /// Whether it can be broken off: a normal end of a rehouse.
    fn breaks_off(&self) -> bool {
        self.stop.can_be_broken_off()
    }

    fn is(&self, part: &str) -> bool {
        Deed::of(part) == Some(self.deed)
    }

    fn chosen(&self, code: &str) -> bool {
        self.work.quick.outcome == code
    }
}

/// The form that a duty's kind needs besides a choice of ends.
fn own_form(duty: &crate::rounds::model::Duty) -> Option<Deed> {
    Some(match (duty.kind, duty.cohort_id.is_some()) {
        (DutyKind::MoultCheck, false) => Deed::Moult,
        (DutyKind::Feed | DutyKind::MoultCheck, true) => Deed::Figures,
        (DutyKind::CohortCount, _) => Deed::Count,
        (DutyKind::Rehouse, _) => Deed::HandsIn,
        (DutyKind::SacCheck, _) if duty.exposure == Exposure::HandsIn => Deed::HandsIn,
        _ => return None,
    })
}

/// Which form is asked for, and the end that was tapped in the room's round.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::rounds) struct Asked {
    form: String,
    outcome: String,
}

pub(in crate::rounds) async fn show(State(app): State<App>, device: Device, Path(id): Path<DutyId>, Query(asked): Query<Asked>) -> Answer {
    let duty = store::tablet::require_in_room(&mut *app.read().await?, device.room_id, id).await?;
    let own = own_form(&duty).filter(|_| asked.form == "own" && duty.held.is_none());
    let mut work = Work::default();
    work.quick.outcome = asked.outcome;
    work.moult.day = text::iso_day(&app.today());
    work.moult.skin_kept = "yes".to_owned();
    if let Some(animal) = duty.animal_id {
        let animal = animals::store::require(&mut *app.read().await?, animal).await?;
        work.hands.shelf = animal.shelf_id.map(|shelf| shelf.to_string()).unwrap_or_default();
        work.hands.position = animal.position.map(|position| position.to_string()).unwrap_or_default();
    }
    page(&DutyPage::build(&app, &device, id, own.unwrap_or(Deed::Quick), (work, Typed::default()), Mistakes::none()).await?)
}

pub(in crate::rounds) async fn sign_quick(State(app): State<App>, device: Device, Path(id): Path<DutyId>, form: Form<Fields>) -> Answer {
    sign(&app, &device, id, Deed::Quick, form).await
}

pub(in crate::rounds) async fn sign_moult(State(app): State<App>, device: Device, Path(id): Path<DutyId>, form: Form<Fields>) -> Answer {
    sign(&app, &device, id, Deed::Moult, form).await
}

pub(in crate::rounds) async fn sign_figures(State(app): State<App>, device: Device, Path(id): Path<DutyId>, form: Form<Fields>) -> Answer {
    sign(&app, &device, id, Deed::Figures, form).await
}

pub(in crate::rounds) async fn sign_count(State(app): State<App>, device: Device, Path(id): Path<DutyId>, form: Form<Fields>) -> Answer {
    sign(&app, &device, id, Deed::Count, form).await
}

pub(in crate::rounds) async fn sign_hands_in(State(app): State<App>, device: Device, Path(id): Path<DutyId>, form: Form<Fields>) -> Answer {
    sign(&app, &device, id, Deed::HandsIn, form).await
}

async fn sign(app: &App, device: &Device, id: DutyId, deed: Deed, form: Form<Fields>) -> Answer {
    let Form { input: mut fields, once } = form;
    let typed = Typed::take(&mut fields);
    let work = Work::read(deed, &fields)?;
    let (mistakes, status) = match write(app, device, (id, deed), &fields, &typed, &once).await {
        Err(AppError::Refused(mistakes)) => (mistakes, StatusCode::UNPROCESSABLE_ENTITY),
        Err(AppError::TooMany(why)) => (Mistakes::one("pin", why), StatusCode::TOO_MANY_REQUESTS),
        Err(AppError::Forbidden(why)) => (Mistakes::one("", why), StatusCode::FORBIDDEN),
        Err(AppError::Conflict(why)) => {
            let signers = Signers::read(&mut *app.read().await?, app.today()).await?;
            return Err(AppError::Conflict(signers.short(&why)));
        }
        answer => return answer,
    };
    let mut shown = DutyPage::build(app, device, id, deed, (work, typed), Mistakes::none()).await?;
    for mistake in mistakes.all() {
        shown.mistakes.add(mistake.field, shown.signers.short(&mistake.message));
    }
    let mut answer = page_again(&shown)?;
    *answer.status_mut() = status;
    Ok(answer)
}

async fn write(app: &App, device: &Device, (id, deed): (DutyId, Deed), fields: &Fields, typed: &Typed, once: &Once) -> Answer {
    let mut db = app.read().await?;
    let duty = store::tablet::require_in_room(&mut db, device.room_id, id).await?;
    let signers = Signers::read(&mut db, app.today()).await?;
    drop(db);
    let mut check = Check::new();
    let signer = typed.check(&mut check, &signers);
    let new = match deed.read(&duty, fields, app.today()) {
        Ok(new) => Some(new),
        Err(AppError::Refused(mistakes)) => {
            mistakes.all().for_each(|mistake| check.add(mistake.field, mistake.message.as_str()));
            None
        }
        Err(other) => return Err(other),
    };
    let (Some(signer), Some(new), true) = (signer, new, check.ok()) else { return Err(check.mistakes().into()) };
    typed.verify(app, device, signer, new.second).await?;
    let new: NewSignoff = new.by(Arrival::Tablet(device.id));
    let mut write = app.begin(signer, once).await?;
    let before = room::ids(write.db(), device.room_id).await?;
    let signed = store::sign_off(&mut write, &new).await?;
    let next = room::next(write.db(), device.room_id, &before, &[id]).await?;
    let after = format!("{} (at the tablet “{}”)", signed.words(), device.name);
    write.commit(Change::new("duty.signed", format!("duty {id}"), after), &next).await?;
    Ok(redirect(&next))
}

/// Taking back what was signed here: whoever signed it gives their PIN again.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct UndoForm {
    pin: String,
}

pub(in crate::rounds) async fn undo(State(app): State<App>, device: Device, Path(id): Path<SignoffId>, form: Form<UndoForm>) -> Answer {
    match take_back(&app, &device, id, &form).await {
        Err(AppError::Refused(mistakes)) => room::again(&app, &device, mistakes, StatusCode::UNPROCESSABLE_ENTITY).await,
        Err(AppError::TooMany(why)) => room::again(&app, &device, Mistakes::one("", why), StatusCode::TOO_MANY_REQUESTS).await,
        answer => answer,
    }
}

async fn take_back(app: &App, device: &Device, id: SignoffId, form: &Form<UndoForm>) -> Answer {
    let signed = store::tablet::signed_at(&mut *app.read().await?, device.id, app.now()).await?;
    let signed = signed.into_iter().find(|signed| signed.id == id).ok_or(AppError::NotFound)?;
    verify(app, device, signed.member_id, &form.input.pin, "").await?;
    let mut write = app.begin(signed.member_id, &form.once).await?;
    let undone = store::undo_at(&mut write, id, Arrival::Tablet(device.id)).await?;
    let after = format!("{} (at the tablet “{}”)", undone.duty.name(), device.name);
    write.commit(Change::new("duty.sign-off taken back", format!("duty {}", undone.duty.id), after), paths::TABLET).await?;
    Ok(redirect(paths::TABLET))
}
