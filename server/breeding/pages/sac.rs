//! A sac's page: its day count, pull window, expected stages, and whose young it holds.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use sqlx::SqliteConnection;

use crate::breeding::model::{PairingRow, Sac, SacState};
use crate::breeding::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::{AnimalId, SacId};
use crate::house::layout::{Layout, Section, page};
use crate::reckoning::breeding::{ExpectedStage, Sire, expected_stages, parentage, stands};
use crate::reckoning::calendar::days_between;
use crate::species;
use crate::species::model::Species;

/// What the dam's pairings and moults say of the sire.
struct Descent {
    reason: String,
    /// The males in question, with their tags.
    sires: Vec<(AnimalId, String)>,
    infertile: bool,
    /// Each pairing before the sac, and whether it stood when the sac was laid.
    pairings: Vec<(PairingRow, bool)>,
}

#[derive(Template)]
#[template(path = "breeding/sac.html")]
struct SacPage {
    layout: Layout,
    sac: Sac,
    species: Species,
    today: NaiveDate,
    days: i64,
    pull: (NaiveDate, NaiveDate),
    expected: Vec<ExpectedStage>,
    descent: Option<Descent>,
}

pub(in crate::breeding) async fn sac(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>) -> Answer {
    let (mut db, today) = (app.read().await?, app.today());
    let sac = store::require_sac(&mut db, id).await?;
    let species = species::store::require(&mut db, sac.species_id).await?;
    let descent = match sac.dam_id {
        Some(dam) => Some(descent(&mut db, dam, sac.laid_on).await?),
        None => None,
    };
    page(&SacPage {
        layout: Layout::of(&app, &me, Section::Breeding).await?,
        today,
        days: days_between(sac.laid_on, sac.ended_on.unwrap_or(today)),
        pull: species.pull_window().days(sac.laid_on),
        expected: expected_stages(sac.laid_on, species.stage_days(), &species.accepted_name),
        descent,
        species,
        sac,
    })
}

async fn descent(db: &mut SqliteConnection, dam: AnimalId, laid_on: NaiveDate) -> Result<Descent, AppError> {
    let moults = store::dam_moults(&mut *db, dam).await?;
    let rows = store::pairings_of(&mut *db, dam).await?;
    let pairings: Vec<_> = rows.iter().map(PairingRow::pairing).collect();
    let found = parentage(&pairings, &moults, laid_on);
    let ids = match &found.sire {
        Sire::Known { sire } => vec![*sire],
        Sire::SeveralCandidates { sires } => sires.clone(),
        Sire::ExpectedInfertile | Sire::NotKnown => Vec::new(),
    };
    let tag = |id: i64| rows.iter().find(|row| row.sire_id.0 == id).map(|row| (row.sire_id, row.sire_tag.clone()));
    let sires = ids.into_iter().filter_map(tag).collect();
    let before = rows.iter().filter(|row| row.paired_on <= laid_on);
    let pairings = before.map(|row| (row.clone(), stands(row.paired_on, &moults, laid_on))).collect();
    Ok(Descent { reason: found.reason, sires, infertile: found.sire == Sire::ExpectedInfertile, pairings })
}
