//! The page of one revision of a care profile.

use askama::Template;
use axum::extract::State;

use super::care_table::{CareRow, Changed, NO_SOURCE, changes, rows, whole, without_source};
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::ProfileId;
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::species::model::{Profile, Species};
use crate::species::store;

#[derive(Template)]
#[template(path = "species/profile.html")]
struct ProfilePage {
    layout: Layout,
    zone: chrono_tz::Tz,
    species: Species,
    profile: Profile,
    newest: Profile,
    /// What changed against the revision before; nothing for the first.
    changed: Option<Vec<Changed>>,
    care: Vec<CareRow>,
    whole: Vec<(&'static str, String)>,
    no_source: bool,
}

pub(in crate::species) async fn profile(State(app): State<App>, me: SignedIn, Path(id): Path<ProfileId>) -> Answer {
    let mut db = app.read().await?;
    let profile = store::require_profile(&mut db, id).await?;
    let all = store::profiles(&mut db, profile.species_id).await?;
    let care = store::care_of_all_stages(&mut db, id).await?;
    let changed = match all.iter().find(|other| other.revision == profile.revision - 1) {
        Some(before) => Some(changes(&store::care_of_all_stages(&mut db, before.id).await?, &care)),
        None => None,
    };
    page(&ProfilePage {
        layout: Layout::of(&app, &me, Section::Species).await?,
        zone: app.site().zone,
        species: store::require(&mut db, profile.species_id).await?,
        newest: all.first().unwrap_or(&profile).clone(),
        profile,
        changed,
        whole: whole(&care),
        care: rows(&care),
        no_source: without_source(&care),
    })
}
