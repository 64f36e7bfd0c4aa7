//! The page of one species.

use askama::Template;
use axum::extract::State;

use super::care_table::{CareRow, NO_SOURCE, rows, whole, without_source};
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::SpeciesId;
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::reckoning::hazard::{assess, cautions_text};
use crate::reckoning::words::LifeStage;
use crate::species::model::{Listing, OtherName, Profile, Species, Stock};
use crate::species::names::NameKind;
use crate::species::store;

/// The band of a life stage, with its reasons and cautions.
struct StageBand {
    stage: LifeStage,
    level: i64,
    reasons: Vec<String>,
}

#[derive(Template)]
#[template(path = "species/species.html")]
struct SpeciesPage {
    layout: Layout,
    zone: chrono_tz::Tz,
    species: Species,
    bands: Vec<StageBand>,
    names: Vec<OtherName>,
    listings: Vec<Listing>,
    stock: Stock,
    profiles: Vec<Profile>,
    care: Vec<CareRow>,
    whole: Vec<(&'static str, String)>,
    no_source: bool,
}

pub(in crate::species) async fn species(State(app): State<App>, me: SignedIn, Path(id): Path<SpeciesId>) -> Answer {
    let mut db = app.read().await?;
    let species = store::require(&mut db, id).await?;
    let newest = store::newest_profile(&mut db, id).await?;
    let care = store::care_of_all_stages(&mut db, newest.id).await?;
    let bands = LifeStage::ALL.iter().map(|stage| band(&species, *stage)).collect();
    page(&SpeciesPage {
        layout: Layout::of(&app, &me, Section::Species).await?,
        zone: app.site().zone,
        bands,
        names: store::names(&mut db, id).await?,
        listings: store::listings(&mut db, id).await?,
        stock: store::stock(&mut db, id).await?,
        profiles: store::profiles(&mut db, id).await?,
        whole: whole(&care),
        care: rows(&care),
        no_source: without_source(&care),
        species,
    })
}

fn band(species: &Species, stage: LifeStage) -> StageBand {
    let facts = species.hazard_facts(stage, Vec::new());
    let hazard = assess(&facts);
    let mut reasons: Vec<String> = hazard.reasons.iter().map(|reason| format!("Because: {reason}.")).collect();
    reasons.extend(cautions_text(&facts));
    StageBand { stage, level: hazard.band.level().into(), reasons }
}
