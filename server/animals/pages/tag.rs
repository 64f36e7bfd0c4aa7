//! Where a label's code leads: to its animal, or to what may have been meant.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::IntoResponse;

use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, redirect};
use crate::house::extract::{Path, SignedIn};
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::reckoning::tag::{Correction, CorrectionKind, corrections, holds, normalise};

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
    if let Some(id) = store::find_by_tag(&mut db, &typed).await? {
        return Ok(redirect(&paths::animal(&id)));
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

fn slip(correction: &Correction) -> String {
    let Correction { position, typed, meant, kind, .. } = correction;
    match kind {
        CorrectionKind::Swapped => format!("characters {position} and {}, “{typed}” and “{meant}”, are swapped", position + 1),
        CorrectionKind::LookAlike | CorrectionKind::Other => format!("character {position} is “{meant}”, not “{typed}”"),
    }
}
