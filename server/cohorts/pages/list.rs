//! The list of cohorts.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::cohorts::store::{self, Listed, PER_PAGE};
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Query, SignedIn};
use crate::house::layout::{Layout, Section, page};
use crate::reckoning::stage::Stage;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::cohorts) struct Asked {
    ended: bool,
    page: u16,
}

/// A cohort of the list with its stages and band.
struct Line {
    cohort: Listed,
    stages: Vec<(Stage, i64)>,
    band: i64,
}

#[derive(Template)]
#[template(path = "cohorts/list.html")]
struct ListPage {
    layout: Layout,
    ended: bool,
    page: u16,
    lines: Vec<Line>,
    more: bool,
}

pub(in crate::cohorts) async fn list(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let mut db = app.read().await?;
    let mut cohorts = store::list(&mut db, asked.ended, i64::from(asked.page)).await?;
    let shown = usize::try_from(PER_PAGE).unwrap_or(usize::MAX);
    let more = cohorts.len() > shown;
    cohorts.truncate(shown);
    let stages = store::stages(&mut db).await?;
    let mut lines = Vec::new();
    for cohort in cohorts {
        let (_, hazard) = store::hazard(&mut db, cohort.id).await?;
        let own = stages.iter().filter(|(id, _, _)| *id == cohort.id).map(|(_, stage, count)| (*stage, *count)).collect();
        lines.push(Line { cohort, stages: own, band: i64::from(hazard.band.level()) });
    }
    page(&ListPage { layout: Layout::of(&app, &me, Section::Cohorts).await?, ended: asked.ended, page: asked.page, lines, more })
}
