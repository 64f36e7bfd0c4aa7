//! Where a label's code leads: to its stop for whoever has it on their round, else to its animal or cohort, or to what may have
//! been meant.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use sqlx::SqliteConnection;

use crate::animals::store;
use crate::house::access::May;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Path, SignedIn};
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::reckoning::tag::{Correction, CorrectionKind, corrections, holds, normalise};
use crate::{cohorts, rounds};

/// A tag of the house that is one slip away from the typed one.
struct Meant {
    tag: String,
    species: String,
    slip: String,
}

#[derive(Template)]
#[template(path = "animals/tag.html")]
struct TagPage {
    layout: Layout,
    typed: String,
    holds: bool,
    meant: Vec<Meant>,
}

pub(in crate::animals) async fn by_tag(State(app): State<App>, me: SignedIn, Path(typed): Path<String>) -> Answer {
    let mut db = app.read().await?;
    if on_round(&mut db, &me, &typed).await? {
        return Ok(redirect(&paths::stops(&typed)));
    }
    if let Some(id) = store::find_by_tag(&mut db, &typed).await? {
        return Ok(redirect(&paths::animal(&id)));
    }
    if let Some(id) = cohorts::store::find_by_code(&mut db, &typed).await? {
        return Ok(redirect(&paths::cohort(&id)));
    }
    let mut meant = Vec::new();
    for correction in corrections(&typed) {
        if let Some(id) = store::find_by_tag(&mut db, &correction.tag).await? {
            let species = store::require(&mut db, id).await?.species_name;
            meant.push(Meant { slip: slip(&correction), tag: correction.tag, species });
        }
    }
    let typed: String = typed.chars().filter(|letter| !letter.is_control()).take(60).collect();
    let layout = Layout::of(&app, &me, Section::Animals).await?;
    let shown = page(&TagPage { layout, holds: holds(&normalise(&typed)), typed, meant })?;
    Ok((StatusCode::NOT_FOUND, shown).into_response())
}

/// Whether something is due for it on this person's round: then its label leads to that stop.
async fn on_round(db: &mut SqliteConnection, me: &SignedIn, label: &str) -> Result<bool, AppError> {
    Ok(May::Keep.allows(&me.member) && rounds::store::open_at(db, label).await?.iter().any(|duty| duty.assigned_to == Some(me.id())))
}

fn slip(correction: &Correction) -> String {
    let Correction { position, typed, meant, kind, .. } = correction;
    match kind {
        CorrectionKind::Swapped => format!("characters {position} and {}, “{typed}” and “{meant}”, are swapped", position + 1),
        CorrectionKind::LookAlike | CorrectionKind::Other => format!("character {position} is “{meant}”, not “{typed}”"),
    }
}
