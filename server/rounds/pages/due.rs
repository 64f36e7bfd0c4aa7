//! Why something is due, or not: every kind of duty of one animal, cohort or sac, with each rule that was weighed.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use crate::handling::model::HoldSubject;
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::{AnimalId, CohortId, SacId};
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::reckoning::planner::{Outlook, Standing, SubjectKey, SubjectKind};
use crate::rounds::model::Duty;
use crate::rounds::model::apart::Apart;
use crate::rounds::store;
use crate::{breeding, handling};

/// One kind of duty as the page shows it.
struct Line {
    outlook: Outlook,
    /// The open duty, when there is one.
    open: Option<Duty>,
}

impl Line {
    /// Where it stands, in a sentence.
    fn stands(&self, today: &NaiveDate) -> String {
        let day = |day: &NaiveDate| format!("{} ({})", text::day(day), text::from_today(day, today));
        match &self.outlook.standing {
            Standing::Due { since, .. } if self.open.is_none() => {
                format!("Due since {}, but put off today: open again tomorrow.", day(since))
            }
            Standing::Due { since, late_after } if late_after < today => format!("Late: due since {}.", day(since)),
            Standing::Due { since, .. } => format!("Due since {}.", day(since)),
            Standing::From { day: from } => format!("Not before {}.", day(from)),
            Standing::Waits { reason } => format!("Waits: {reason}."),
            Standing::NotNeeded { reason } => format!("Not needed: {reason}."),
        }
    }

    /// The next day on which it falls due, where that is known.
    fn next(&self) -> String {
        match &self.outlook.standing {
            Standing::Due { .. } => "today".to_owned(),
            Standing::From { day } => text::day(day),
            Standing::Waits { .. } | Standing::NotNeeded { .. } => "no day yet".to_owned(),
        }
    }
}

#[derive(Template)]
#[template(path = "rounds/due.html")]
struct DuePage {
    layout: Layout,
    today: NaiveDate,
    label: String,
    species: String,
    path: String,
    lines: Vec<Line>,
    /// The rules set apart that stand today; nothing for sacs.
    apart: Vec<Apart>,
    /// Where rules are set apart.
    apart_path: Option<String>,
}

pub(in crate::rounds) async fn due_of_animal(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = handling::store::require_subject(&mut *app.read().await?, HoldSubject::Animal(id)).await?;
    let key = SubjectKey { kind: SubjectKind::Animal, id: id.0 };
    let about = About { label: subject.label, species: subject.species, path: paths::animal(&id), apart: Some(HoldSubject::Animal(id)) };
    show(&app, &me, key, about).await
}

pub(in crate::rounds) async fn due_of_cohort(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>) -> Answer {
    let subject = handling::store::require_subject(&mut *app.read().await?, HoldSubject::Cohort(id)).await?;
    let key = SubjectKey { kind: SubjectKind::Cohort, id: id.0 };
    let about = About { label: subject.label, species: subject.species, path: paths::cohort(&id), apart: Some(HoldSubject::Cohort(id)) };
    show(&app, &me, key, about).await
}

pub(in crate::rounds) async fn due_of_sac(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>) -> Answer {
    let sac = breeding::store::require_sac(&mut *app.read().await?, id).await?;
    let key = SubjectKey { kind: SubjectKind::Sac, id: id.0 };
    let about = About { label: format!("Sac {id}"), species: sac.species, path: paths::sac(&id), apart: None };
    show(&app, &me, key, about).await
}

/// What the page is about.
struct About {
    label: String,
    species: String,
    path: String,
    apart: Option<HoldSubject>,
}

async fn show(app: &App, me: &SignedIn, key: SubjectKey, about: About) -> Answer {
    let mut db = app.read().await?;
    let (today, now, zone) = (app.today(), app.now(), app.site().zone);
    let mut open = store::open_of_subject(&mut db, key).await?;
    let lines = store::outlook(&mut db, key, now, zone).await?.into_iter().map(|outlook| {
        let place = open.iter().position(|duty| duty.kind == outlook.kind);
        Line { open: place.map(|place| open.swap_remove(place)), outlook }
    });
    let lines = lines.collect();
    let apart = match about.apart {
        Some(subject) => store::apart_of(&mut db, subject).await?.into_iter().filter(|rule| rule.stands(&today)).collect(),
        None => Vec::new(),
    };
    page(&DuePage {
        layout: Layout::of(app, me, Section::Animals).await?,
        today,
        label: about.label,
        species: about.species,
        apart_path: about.apart.map(|_| format!("{}/apart", about.path)),
        path: about.path,
        lines,
        apart,
    })
}
