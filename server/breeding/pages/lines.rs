//! The lines of the house: the list, and one line with its animals, cohorts, founders and inbreeding.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use askama::Template;
use axum::extract::State;
use sqlx::SqliteConnection;

use crate::animals::model::AnimalStatus;
use crate::breeding::model::kindred::{KinAnimal, KinCohort, Kindred};
use crate::breeding::model::lines::LineRow;
use crate::breeding::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::{SpeciesId, StrainId};
use crate::house::layout::{Layout, Section, page};
use crate::house::{paths, text};
use crate::reckoning::pedigree::{Founders, Individual, Pedigree, PedigreeError};

/// A line of the list.
struct Listed {
    line: LineRow,
    animals: i64,
    spiderlings: i64,
    cohorts: i64,
}

#[derive(Template)]
#[template(path = "breeding/lines.html")]
struct ListPage {
    layout: Layout,
    lines: Vec<Listed>,
}

pub(in crate::breeding) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let mut kins: BTreeMap<SpeciesId, Kindred> = BTreeMap::new();
    let mut lines = Vec::new();
    for line in store::lines(&mut db).await? {
        let kin = match kins.entry(line.species_id) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(new) => new.insert(store::kindred(&mut db, line.species_id).await?),
        };
        let of = Members::of(kin, line.id);
        let count = |length: usize| i64::try_from(length).unwrap_or(i64::MAX);
        lines.push(Listed {
            animals: count(of.animals.iter().filter(|animal| animal.status == AnimalStatus::Alive).count()),
            spiderlings: of.cohorts.iter().map(|cohort| cohort.alive).sum(),
            cohorts: count(of.cohorts.len()),
            line,
        });
    }
    page(&ListPage { layout: Layout::of(&app, &me, Section::Breeding).await?, lines })
}

/// Those that are of a line and of no other.
#[derive(Default)]
struct Members {
    animals: Vec<KinAnimal>,
    cohorts: Vec<KinCohort>,
    /// How many animals and cohorts are of it in part.
    mixed: usize,
}

impl Members {
    fn of(kin: &Kindred, line: StrainId) -> Self {
        let (of_animals, of_cohorts) = kin.strains();
        let mut members = Self::default();
        for animal in kin.animals.values() {
            match of_animals.get(&animal.id) {
                Some(of) if of.pure() == Some(line.0) => members.animals.push(animal.clone()),
                Some(of) if of.lines.contains(&line.0) => members.mixed += 1,
                _ => {}
            }
        }
        for cohort in kin.cohorts.values() {
            match of_cohorts.get(&cohort.id) {
                Some(of) if of.pure() == Some(line.0) => members.cohorts.push(cohort.clone()),
                Some(of) if of.lines.contains(&line.0) => members.mixed += 1,
                _ => {}
            }
        }
        members
    }
}

/// How inbred the living animals of a line are, and from whom they come.
struct Bred {
    /// Each animal's F, by tag.
    inbreeding: BTreeMap<String, f64>,
    mean: Option<f64>,
    founders: Founders<String>,
}

#[derive(Template)]
#[template(path = "breeding/line.html")]
struct LinePage {
    layout: Layout,
    line: LineRow,
    members: Members,
    living: usize,
    bred: Bred,
}

impl LinePage {
    fn inbreeding(&self, tag: &str) -> String {
        self.bred.inbreeding.get(tag).map_or_else(|| "–".to_owned(), |of| format!("{of:.4}"))
    }

    fn share(share: &f64) -> String {
        format!("{:.1} %", share * 100.0)
    }
}

pub(in crate::breeding) async fn line(State(app): State<App>, me: SignedIn, Path(id): Path<StrainId>) -> Answer {
    let mut db = app.read().await?;
    let line = store::require_line(&mut db, id).await?;
    let members = Members::of(&store::kindred(&mut db, line.species_id).await?, id);
    let living: Vec<String> =
        members.animals.iter().filter(|animal| animal.status == AnimalStatus::Alive).map(|animal| animal.tag.clone()).collect();
    let bred = bred(&mut db, &members, &living).await?;
    page(&LinePage { layout: Layout::of(&app, &me, Section::Breeding).await?, line, living: living.len(), members, bred })
}

async fn bred(db: &mut SqliteConnection, members: &Members, living: &[String]) -> Result<Bred, AppError> {
    let individuals: Vec<Individual<String>> = store::pedigree(db).await?.into_iter().map(|animal| animal.individual).collect();
    let internal = |error: PedigreeError| AppError::Internal(anyhow::Error::new(error));
    let pedigree = Pedigree::new(&individuals).map_err(internal)?;
    let reckoned = pedigree.inbreeding().map_err(internal)?;
    let of_each = members.animals.iter().filter_map(|animal| Some((animal.tag.clone(), reckoned.of(&animal.tag)?)));
    let inbreeding: BTreeMap<String, f64> = of_each.collect();
    let sum: f64 = living.iter().filter_map(|tag| inbreeding.get(tag)).sum();
    Ok(Bred {
        mean: (!living.is_empty()).then(|| sum / living.len() as f64),
        inbreeding,
        founders: pedigree.founders(living).map_err(internal)?,
    })
}
