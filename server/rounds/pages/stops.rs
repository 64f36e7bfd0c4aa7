//! All that is due for one animal or cohort: where the code on a vial leads whoever is on a round.

use askama::Template;
use axum::extract::State;

use super::stop::Stop;
use crate::house::app::App;
use crate::house::errors::{Answer, redirect};
use crate::house::extract::{Path, SignedIn};
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::reckoning::tag;
use crate::rounds::store;

#[derive(Template)]
#[template(path = "rounds/stops.html")]
struct StopsPage {
    layout: Layout,
    label: String,
    path: String,
    /// What this person can sign.
    stops: Vec<Stop>,
    /// What somebody else has, or what is above this person's clearance, in words.
    others: Vec<String>,
}

pub(in crate::rounds) async fn stops(State(app): State<App>, me: SignedIn, Path(typed): Path<String>) -> Answer {
    let mut db = app.read().await?;
    let open = store::open_at(&mut db, &typed).await?;
    let Some(first) = open.first() else {
        return Ok(redirect(&paths::tag(&tag::normalise(&typed))));
    };
    let (label, path) = (first.label.clone(), first.subject_path());
    let known = store::known_of(&mut db, first.subject(), app.now(), app.site().zone).await?;
    let (mut stops, mut others) = (Vec::new(), Vec::new());
    for duty in open {
        if let Some(missing) = store::shortfall(&mut db, me.id(), &duty, app.today()).await? {
            others.push(missing);
            continue;
        }
        if let Some(name) = duty.assigned_name.as_ref().filter(|_| duty.assigned_to != Some(me.id())) {
            others.push(format!("{} is on the round of {name}. Sign it here only if you do it for them.", duty.name()));
        }
        stops.push(Stop::new(duty, &known, app.today()));
    }
    page(&StopsPage { layout: Layout::of(&app, &me, Section::Round).await?, label, path, stops, others })
}
