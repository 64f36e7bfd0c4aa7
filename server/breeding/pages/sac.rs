//! A sac's page: its day count, pull window, the stages to come, its log, and whose young it holds.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::log;
use crate::breeding::model::forecast::StageAhead;
use crate::breeding::model::incubation::Seen;
use crate::breeding::model::pairing::{MixedLine, SireCandidate};
use crate::breeding::model::{Introduction, Sac, SacState};
use crate::breeding::store;
use crate::cohorts;
use crate::cohorts::model::CountCheck;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::{AnimalId, SacId};
use crate::house::layout::{Layout, Section, page};
use crate::reckoning::breeding::{Sire, stands};
use crate::reckoning::calendar::days_between;
use crate::species;
use crate::species::model::Species;

/// What the dam's introductions and moults say of the sire.
struct Descent {
    reason: String,
    /// The males in question, marked by what was seen.
    sires: Vec<SireCandidate>,
    infertile: bool,
    /// Each introduction before the sac, whether it stood when the sac was laid, and the moult that made it void.
    introductions: Vec<(Introduction, bool, Option<NaiveDate>)>,
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
    ahead: Vec<StageAhead>,
    seen: Vec<Seen>,
    told: log::Told,
    descent: Option<Descent>,
    mixed: Option<MixedLine>,
    counts: Vec<CountCheck>,
}

impl SacPage {
    /// Whether a stage is late: nobody has seen it, and its window is past.
    fn late(&self, stage: &StageAhead) -> bool {
        self.sac.state == SacState::Incubating && stage.seen_on.is_none() && stage.window.to < self.today
    }
}

pub(in crate::breeding) async fn sac(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>) -> Answer {
    let (mut db, today) = (app.read().await?, app.today());
    let sac = store::require_sac(&mut db, id).await?;
    let species = species::store::require(&mut db, sac.species_id).await?;
    let descent = match sac.dam_id {
        Some(dam) => Some(descent(&mut db, dam, &sac).await?),
        None => None,
    };
    let readings = store::incubation::readings(&mut db, id).await?;
    let rules = log::rules(&mut db, &sac).await?;
    page(&SacPage {
        layout: Layout::of(&app, &me, Section::Breeding).await?,
        today,
        days: days_between(sac.laid_on, sac.ended_on.unwrap_or(today)),
        pull: species.pull_window().days(sac.laid_on),
        ahead: store::stages_ahead(&mut db, &sac).await?,
        seen: store::incubation::seen(&mut db, id).await?,
        told: log::told(&sac, &readings, rules, today, app.site().zone)?,
        mixed: store::mixed_line_of_sac(&mut db, id).await?,
        counts: match sac.cohort_id {
            Some(cohort) => cohorts::store::tallies(&mut db, cohort).await?,
            None => Vec::new(),
        },
        descent,
        species,
        sac,
    })
}

async fn descent(db: &mut SqliteConnection, dam: AnimalId, sac: &Sac) -> Result<Descent, AppError> {
    let moults = store::dam_moults(&mut *db, dam).await?;
    let found = store::parentage_of(&mut *db, dam, sac.laid_on).await?;
    let before = store::introductions_of_dam(&mut *db, dam).await?.into_iter().filter(|one| one.day <= sac.laid_on);
    let introductions = before.map(|one| {
        let void = moults.iter().copied().find(|moult| *moult > one.day);
        (one.clone(), stands(one.day, &moults, sac.laid_on), void)
    });
    Ok(Descent {
        reason: found.reason,
        infertile: found.sire == Sire::ExpectedInfertile,
        introductions: introductions.collect(),
        sires: store::sire_candidates(db, sac.id).await?,
    })
}
