//! The list of species, and the search by any name that a species has gone by.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::house::app::App;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Query, SignedIn};
use crate::house::ids::SpeciesId;
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::reckoning::hazard::assess;
use crate::reckoning::words::LifeStage;
use crate::species::model::SpeciesInHouse;
use crate::species::names::{NameKind, NameMatch};
use crate::species::store;

/// Most letters of a search that are shown again.
const LONGEST_SHOWN: usize = 80;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::species) struct Search {
    q: String,
}

/// A species of the list with the band of its adults.
struct Line {
    entry: SpeciesInHouse,
    adult_band: i64,
}

/// What a search found, where it did not lead straight to a species.
enum Found {
    /// Nothing was asked.
    NotAsked,
    /// Another name of one species.
    OtherName { was: String, kind: NameKind, species: (SpeciesId, String) },
    /// A name that may mean several.
    Ask { candidates: Vec<(SpeciesId, String)>, note: String },
    /// No such name.
    Unknown { near: Vec<(SpeciesId, String)> },
}

#[derive(Template)]
#[template(path = "species/list.html")]
struct ListPage {
    layout: Layout,
    q: String,
    found: Found,
    species: Vec<Line>,
}

pub(in crate::species) async fn list(State(app): State<App>, me: SignedIn, Query(search): Query<Search>) -> Answer {
    let mut db = app.read().await?;
    let asked = search.q.trim();
    let found = match store::find_name(&mut db, asked).await? {
        _ if asked.is_empty() => Found::NotAsked,
        NameMatch::Accepted(id) => return Ok(redirect(&paths::species(&id))),
        NameMatch::Former { id, name, kind } => Found::OtherName { was: name, kind, species: named(&mut db, id).await? },
        NameMatch::Ambiguous { candidates, note } => Found::Ask { candidates: all_named(&mut db, candidates).await?, note },
        NameMatch::Unknown { near } => Found::Unknown { near: all_named(&mut db, near).await? },
    };
    let species = store::in_house(&mut db).await?.into_iter().map(line).collect();
    let q = asked.chars().take(LONGEST_SHOWN).collect();
    page(&ListPage { layout: Layout::of(&app, &me, Section::Species).await?, q, found, species })
}

fn line(entry: SpeciesInHouse) -> Line {
    let adult_band = assess(&entry.species.hazard_facts(LifeStage::Adult, Vec::new())).band.level().into();
    Line { entry, adult_band }
}

async fn named(db: &mut SqliteConnection, id: SpeciesId) -> Result<(SpeciesId, String), AppError> {
    Ok((id, store::require(db, id).await?.accepted_name))
}

async fn all_named(db: &mut SqliteConnection, ids: Vec<SpeciesId>) -> Result<Vec<(SpeciesId, String)>, AppError> {
    let mut all = Vec::new();
    for id in ids {
        all.push(named(db, id).await?);
    }
    Ok(all)
}
