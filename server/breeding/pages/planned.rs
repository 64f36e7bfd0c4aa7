//! What the young of a planned pairing would be: how closely the two are related, through whom, and which generation.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;
use sqlx::SqliteConnection;

use super::parents;
use crate::breeding::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::ids::AnimalId;
use crate::house::layout::{Choice, Layout, Section, page};
use crate::house::text;
use crate::reckoning::breeding::check::{self, Finding, Weight};
use crate::reckoning::pedigree::{CommonAncestor, Individual, Origin, Pedigree, Recorded, captive_generations, is_close};
use crate::reckoning::words::Sex;

/// How many common ancestors are named.
const NAMED: usize = 12;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::breeding) struct Asked {
    pub(super) dam: String,
    pub(super) sire: String,
}

/// A common ancestor and the ways that lead to it.
struct Through {
    tag: String,
    contribution: String,
    dam_side: String,
    sire_side: String,
}

/// What follows for the young.
struct Young {
    dam: String,
    sire: String,
    relationship: String,
    inbreeding: String,
    grave: bool,
    through: Vec<Through>,
    and_more: String,
    generation: String,
}

#[derive(Template)]
#[template(path = "breeding/planned.html")]
struct PlannedPage {
    layout: Layout,
    dams: Vec<Choice>,
    sires: Vec<Choice>,
    asked: Asked,
    young: Option<Young>,
    findings: Vec<Finding>,
    blocked: bool,
}

pub(in crate::breeding) async fn planned(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let mut db = app.read().await?;
    let (young, findings) = match (asked.dam.parse::<AnimalId>(), asked.sire.parse::<AnimalId>()) {
        (Ok(dam), Ok(sire)) => {
            let asking = (app.now(), app.site().zone, Some(me.id()));
            let (findings, _) = store::look(&mut db, dam, sire, app.today(), asking).await?;
            (Some(young(&mut db, dam, sire).await?), findings)
        }
        _ => (None, Vec::new()),
    };
    page(&PlannedPage {
        dams: parents(&mut db, Sex::Female, "choose the female").await?,
        sires: parents(&mut db, Sex::Male, "choose the male").await?,
        layout: Layout::of(&app, &me, Section::Breeding).await?,
        asked,
        young,
        blocked: check::blocked(&findings),
        findings,
    })
}

async fn young(db: &mut SqliteConnection, dam: AnimalId, sire: AnimalId) -> Result<Young, AppError> {
    let (dam, sire) = (store::parent(&mut *db, dam).await?, store::parent(&mut *db, sire).await?);
    let recorded = store::pedigree(db).await?;
    let internal = |error| AppError::Internal(anyhow::Error::new(error));
    let individuals: Vec<Individual<String>> = recorded.iter().map(|animal| animal.individual.clone()).collect();
    let pedigree = Pedigree::new(&individuals).map_err(internal)?;
    let inbreeding = pedigree.inbreeding().map_err(internal)?;
    let common = inbreeding.common_ancestors(&dam.tag, &sire.tag, NAMED).map_err(internal)?;
    Ok(Young {
        relationship: text::sentence(&common.relationship.sentence),
        inbreeding: format!("{:.4} ({})", common.kinship, text::percent(&common.kinship)),
        grave: is_close(common.kinship),
        through: common.ancestors.iter().map(through).collect(),
        and_more: common.and_more.clone(),
        generation: generation(recorded, &dam.tag, &sire.tag).map_err(internal)?,
        dam: dam.tag,
        sire: sire.tag,
    })
}

fn through(of: &CommonAncestor<String>) -> Through {
    Through {
        tag: of.id.clone(),
        contribution: format!("{:.4}", of.contribution),
        dam_side: of.nearest_path_dam_side.join(" → "),
        sire_side: of.nearest_path_sire_side.join(" → "),
    }
}

/// The captive generation that their young would be, and why.
fn generation(mut recorded: Vec<Recorded<String>>, dam: &str, sire: &str) -> Result<String, crate::reckoning::pedigree::PedigreeError> {
    let id = "the young".to_owned();
    let individual = Individual { id, dam: Some(dam.to_owned()), sire: Some(sire.to_owned()) };
    recorded.push(Recorded { individual, origin: Origin::Captive, mated_in_wild: false });
    Ok(captive_generations(&recorded)?.pop().map(|young| young.reason).unwrap_or_default())
}
