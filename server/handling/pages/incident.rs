//! One incident: whom to call, what to watch for, what was noted, and the lead's review.

use askama::Template;
use axum::extract::State;
use chrono::NaiveTime;
use chrono_tz::Tz;
use serde::Deserialize;

use super::required_paragraphs;
use crate::animals;
use crate::cohorts;
use crate::handling::model::{Incident, IncidentNote, NoteTopic};
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::IncidentId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::paths;
use crate::papers;
use crate::papers::model::PaperLine;
use crate::reckoning::hazard::cautions_text;
use crate::reckoning::words::World;

#[derive(Template)]
#[template(path = "handling/incident.html")]
struct IncidentPage {
    layout: Layout,
    zone: Tz,
    emergency: String,
    incident: Incident,
    /// The animal's or cohort's band and what to know of it.
    hazard: Option<(i64, Vec<String>)>,
    notes: Vec<IncidentNote>,
    topics: Vec<Choice>,
    own: bool,
    note: NoteForm,
    review: ReviewForm,
    papers: Vec<PaperLine>,
    mistakes: Mistakes,
}

impl IncidentPage {
    async fn of(app: &App, me: &SignedIn, incident: Incident) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let facts = match (incident.animal_id, incident.cohort_id) {
            (Some(id), _) => Some(animals::store::hazard(&mut db, id).await?),
            (None, Some(id)) => Some(cohorts::store::hazard(&mut db, id).await?),
            (None, None) => None,
        };
        Ok(Self {
            layout: Layout::of(app, me, Section::Handling).await?,
            zone: app.site().zone,
            emergency: app.site().emergency.clone(),
            hazard: facts.map(|(facts, hazard)| (i64::from(hazard.band.level()), cautions_text(&facts))),
            notes: store::notes_of(&mut db, incident.id).await?,
            topics: choices(NoteTopic::OPEN, NoteTopic::code),
            own: me.id() == incident.member_id,
            note: NoteForm::default(),
            review: ReviewForm::default(),
            papers: papers::store::of_incident(&mut db, incident.id).await?,
            mistakes: Mistakes::none(),
            incident,
        })
    }

    fn of_kind(&self, kind: &str) -> bool {
        self.incident.kind.code() == kind
    }

    fn old_world(&self) -> bool {
        self.incident.world == Some(World::Old)
    }
}

pub(in crate::handling) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<IncidentId>) -> Answer {
    let incident = store::require_incident(&mut *app.read().await?, id).await?;
    page(&IncidentPage::of(&app, &me, incident).await?)
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct NoteForm {
    topic: String,
    time: String,
    text: String,
}

impl NoteForm {
    fn check(&self) -> Result<(NoteTopic, String), Mistakes> {
        let mut check = Check::new();
        let topic = check.choice::<NoteTopic>("topic", &self.topic);
        if topic == Some(NoteTopic::Review) {
            check.add("topic", "A review is entered by a lead, below.");
        }
        let time = match self.time.trim() {
            "" => None,
            typed => Some(NaiveTime::parse_from_str(typed, "%H:%M")),
        };
        if matches!(time, Some(Err(_))) {
            check.add("time", "Enter the time as hours and minutes, such as 14:05, or leave it empty.");
        }
        let text = required_paragraphs(&mut check, "text", &self.text, 1900);
        match (topic, text) {
            (Some(topic), Some(text)) if check.ok() => {
                let time = time.and_then(Result::ok).map_or_else(String::new, |time| format!("At {}: ", time.format("%H:%M")));
                Ok((topic, format!("{time}{text}")))
            }
            _ => Err(check.mistakes()),
        }
    }
}

pub(in crate::handling) async fn add_note(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<IncidentId>,
    form: Form<NoteForm>,
) -> Answer {
    let incident = store::require_incident(&mut *app.read().await?, id).await?;
    match save_note(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&IncidentPage { note: form.input, mistakes, ..IncidentPage::of(&app, &me, incident).await? })
        }
        answer => answer,
    }
}

async fn save_note(app: &App, me: &SignedIn, id: IncidentId, form: &Form<NoteForm>) -> Answer {
    let (topic, text) = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::add_note(&mut write, id, topic, &text).await?;
    let change = Change::new("incident.noted", format!("incident {id}"), format!("{topic}: {text}"));
    me.done(write, change, &paths::incident(&id), "The note is kept.").await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct ReviewForm {
    review: String,
}

pub(in crate::handling) async fn review(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<IncidentId>,
    form: Form<ReviewForm>,
) -> Answer {
    let incident = store::require_incident(&mut *app.read().await?, id).await?;
    match save_review(&app, &me, &incident, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&IncidentPage { review: form.input, mistakes, ..IncidentPage::of(&app, &me, incident).await? })
        }
        answer => answer,
    }
}

async fn save_review(app: &App, me: &SignedIn, incident: &Incident, form: &Form<ReviewForm>) -> Answer {
    let mut check = Check::new();
    let note = required_paragraphs(&mut check, "review", &form.input.review, 2000).ok_or_else(|| check.mistakes())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::review(&mut write, incident, &note).await?;
    let change = Change::new("incident.reviewed", format!("incident {}", incident.id), note).from(incident.kind.label());
    let say = format!("The review is kept. What {} was cleared for counts again.", incident.member_name);
    me.done(write, change, &paths::incident(&incident.id), say).await
}
