//! Label sheets: for animals that were just tagged, and for every vial of a cohort.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use crate::cohorts::model::{Cohort, EnteredLine};
use crate::cohorts::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::ids::{CohortId, LineId};
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, qr};
use crate::reckoning::ledger::Bucket;
use crate::reckoning::stage::Stage;

/// More vials than one sheaf of sheets serves.
const MOST: u32 = 400;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::cohorts) struct Asked {
    line: Option<LineId>,
}

/// One label: what is printed on it.
struct Label {
    /// The animal's tag; none on a vial of the cohort.
    tag: Option<String>,
    /// The QR code; none where the sheet's one code serves.
    picture: Option<String>,
    stage: Stage,
}

#[derive(Template)]
#[template(path = "cohorts/labels.html")]
struct LabelsPage {
    layout: Layout,
    cohort: Cohort,
    day: NaiveDate,
    labels: Vec<Label>,
    /// The QR code that leads to the cohort, or to its stop for whoever has it on their round; shown once at the head of a sheet of vials.
    cohort_picture: Option<String>,
}

pub(in crate::cohorts) async fn labels(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<CohortId>,
    Query(asked): Query<Asked>,
) -> Answer {
    let mut db = app.read().await?;
    let cohort = store::require(&mut db, id).await?;
    let layout = Layout::of(&app, &me, Section::Cohorts).await?;
    let Some(line) = asked.line else {
        let picture = qr::svg(&format!("{}{}", app.config.public_url, paths::tag(&cohort.code)))?;
        let labels = vials(&store::standing(&mut db, id).await?);
        return page(&LabelsPage { layout, cohort, day: app.today(), labels, cohort_picture: Some(picture) });
    };
    let line = store::entered(&mut db, id).await?.into_iter().find(|entered| entered.id == line).ok_or(AppError::NotFound)?;
    let labels = tags(&app, &store::tagged_by(&mut db, id, line.id).await?, &line)?;
    page(&LabelsPage { layout, cohort, day: line.day, labels, cohort_picture: None })
}

fn tags(app: &App, tagged: &[store::Tagged], line: &EnteredLine) -> Result<Vec<Label>, AppError> {
    let Bucket::Stage(stage) = line.from_bucket else { return Err(AppError::NotFound) };
    tagged
        .iter()
        .map(|animal| {
            let picture = qr::svg(&format!("{}{}", app.config.public_url, paths::tag(&animal.tag)))?;
            Ok(Label { tag: Some(animal.tag.clone()), picture: Some(picture), stage })
        })
        .collect()
}

fn vials(standing: &[crate::cohorts::model::StageCount]) -> Vec<Label> {
    let most = usize::try_from(MOST).unwrap_or(usize::MAX);
    let each = standing.iter().flat_map(|count| (0..count.quantity).map(|_| Label { tag: None, picture: None, stage: count.stage }));
    each.take(most).collect()
}
