//! The list of incidents, and recording one in a single tap.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;
use serde::Deserialize;

use super::About;
use crate::handling::model::{HoldSubject, Incident, IncidentKind, NewIncident, Subject};
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, CohortId, DutyId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;

#[derive(Template)]
#[template(path = "handling/incidents.html")]
struct ListPage {
    layout: Layout,
    zone: Tz,
    incidents: Vec<Incident>,
}

pub(in crate::handling) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let incidents = store::incidents(&mut *app.read().await?).await?;
    page(&ListPage { layout: Layout::of(&app, &me, Section::Handling).await?, zone: app.site().zone, incidents })
}

/// What an incident happened with: all parts may be missing.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::handling) struct During {
    animal: Option<AnimalId>,
    cohort: Option<CohortId>,
    duty: Option<DutyId>,
}

/// The same, looked up.
struct Scene {
    subject: Option<Subject>,
    duty: Option<DutyId>,
}

impl During {
    /// A duty names its own animal or cohort; one that says otherwise, or does not exist, is a page that does not exist.
    async fn scene(&self, app: &App) -> Result<Scene, AppError> {
        let mut db = app.read().await?;
        let named = match (self.animal, self.cohort) {
            (None, None) => None,
            (animal, cohort) => Some(About { animal, cohort }.subject()?),
        };
        let on: Option<HoldSubject> = match self.duty {
            Some(duty) => {
                let of_duty = store::subject_of_duty(&mut db, duty).await?;
                if named.is_some() && named != of_duty {
                    return Err(AppError::NotFound);
                }
                of_duty
            }
            None => named,
        };
        let subject = match on {
            Some(on) => Some(store::require_subject(&mut db, on).await?),
            None => None,
        };
        Ok(Scene { subject, duty: self.duty })
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct IncidentForm {
    kind: String,
}

#[derive(Template)]
#[template(path = "handling/new_incident.html")]
struct NewPage {
    layout: Layout,
    scene: Scene,
    mistakes: Mistakes,
}

pub(in crate::handling) async fn new(State(app): State<App>, me: SignedIn, Query(during): Query<During>) -> Answer {
    let scene = during.scene(&app).await?;
    page(&NewPage { layout: Layout::of(&app, &me, Section::Handling).await?, scene, mistakes: Mistakes::none() })
}

pub(in crate::handling) async fn create(
    State(app): State<App>,
    me: SignedIn,
    Query(during): Query<During>,
    form: Form<IncidentForm>,
) -> Answer {
    let scene = during.scene(&app).await?;
    match save(&app, &me, &scene, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&NewPage { layout: Layout::of(&app, &me, Section::Handling).await?, scene, mistakes })
        }
        answer => answer,
    }
}

/// The incident's page begins with whom to call, so nothing is said above it: the page itself tells of the suspension.
async fn save(app: &App, me: &SignedIn, scene: &Scene, form: &Form<IncidentForm>) -> Answer {
    let mut check = Check::new();
    let kind: IncidentKind = check.choice("kind", &form.input.kind).ok_or_else(|| check.mistakes())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let animal = scene.subject.as_ref().and_then(|subject| subject.animal_id);
    let cohort = scene.subject.as_ref().and_then(|subject| subject.cohort_id);
    let id = store::record_incident(&mut write, &NewIncident { kind, animal, cohort, duty: scene.duty }).await?;
    let with = scene.subject.as_ref().map_or_else(String::new, |subject| format!(" with {}", subject.label));
    let location = paths::incident(&id);
    let change = Change::new("incident.recorded", format!("incident {id}"), format!("{kind}{with}; clearances rest until a review"));
    write.commit(change, &location).await?;
    Ok(redirect(&location))
}
