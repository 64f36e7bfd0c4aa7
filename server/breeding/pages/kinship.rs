//! How closely the breeders of a species are related, and which pairs would have the least inbred young.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::breeding::store::{self, Breeder};
use crate::house::app::App;
use crate::house::chart::{self, Figures};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::ids::{AnimalId, SpeciesId};
use crate::house::layout::{Choice, Layout, Section, page};
use crate::house::paths;
use crate::reckoning::pedigree::{Breeders, Individual, Pedigree, PedigreeError, is_close};
use crate::reckoning::words::{Sex, SexBasis};
use crate::species;

/// How many pairs are listed.
const BEST: usize = 20;
/// How many of either sex the table shows: those with the lowest mean kinship. The file holds all.
const MOST: usize = 60;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::breeding) struct Asked {
    species: String,
}

/// A breeder at the edge of the table.
struct Edge {
    id: AnimalId,
    tag: String,
    suspected: bool,
    mean: f64,
}

/// A pair of the list.
struct Pair {
    female: Edge,
    male: Edge,
    inbreeding: f64,
    mean: f64,
}

impl Pair {
    fn is_close(&self) -> bool {
        is_close(self.inbreeding)
    }
}

/// The table of a species.
struct Table {
    species: String,
    females: Vec<Edge>,
    males: Vec<Edge>,
    cells: Vec<Vec<f64>>,
    best: Vec<Pair>,
    /// How many of either sex are not in the table.
    left_out: (usize, usize),
    not_sexed: Vec<String>,
}

#[derive(Template)]
#[template(path = "breeding/kinship.html")]
struct KinshipPage {
    layout: Layout,
    species: Vec<Choice>,
    asked: Asked,
    table: Option<Table>,
}

impl KinshipPage {
    /// A share with four places, without those that say nothing: 0.125, 0.
    fn figure(share: &f64) -> String {
        let text = format!("{share:.4}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    }

    fn is_close(kinship: &f64) -> bool {
        is_close(*kinship)
    }
}

pub(in crate::breeding) async fn kinship(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let mut db = app.read().await?;
    let all = species::store::all(&mut db).await?;
    let first = Choice::new("", "choose the species");
    let table = match asked.species.parse::<SpeciesId>() {
        Ok(id) => Some(table(&mut db, id).await?),
        Err(_) => None,
    };
    page(&KinshipPage {
        species: std::iter::once(first).chain(all.into_iter().map(|one| Choice::new(one.id, one.accepted_name))).collect(),
        layout: Layout::of(&app, &me, Section::Breeding).await?,
        asked,
        table,
    })
}

/// All pairs as a file, the least related first.
pub(in crate::breeding) async fn csv(State(app): State<App>, Query(asked): Query<Asked>) -> Answer {
    let mut db = app.read().await?;
    let id = asked.species.parse::<SpeciesId>().map_err(|_| AppError::NotFound)?;
    let name = species::store::require(&mut db, id).await?.accepted_name;
    let all = store::breeders(&mut db, id).await?;
    let found = reckoned(&mut db, &all).await?;
    let mut figures = Figures::new(&["female", "male", "inbreeding of the young", "mean kinship of the two"]).with_words(&[1]);
    let row = |pair: crate::reckoning::pedigree::Pair<String>| {
        vec![pair.female, pair.male, format!("{:.6}", pair.inbreeding), format!("{:.6}", pair.mean_kinship)]
    };
    figures.rows = found.best_pairs().into_iter().map(row).collect();
    chart::download(&figures, &format!("kinship-{name}"))
}

async fn reckoned(db: &mut SqliteConnection, all: &[Breeder]) -> Result<Breeders<String>, AppError> {
    let individuals: Vec<Individual<String>> = store::pedigree(db).await?.into_iter().map(|animal| animal.individual).collect();
    let internal = |error: PedigreeError| AppError::Internal(anyhow::Error::new(error));
    let pedigree = Pedigree::new(&individuals).map_err(internal)?;
    let of = |sex: Sex| all.iter().filter(|one| one.sex == sex).map(|one| one.tag.clone()).collect::<Vec<_>>();
    pedigree.inbreeding().map_err(internal)?.breeders(&of(Sex::Female), &of(Sex::Male)).map_err(internal)
}

async fn table(db: &mut SqliteConnection, id: SpeciesId) -> Result<Table, AppError> {
    let species = species::store::require(&mut *db, id).await?.accepted_name;
    let all = store::breeders(&mut *db, id).await?;
    let not_sexed = store::adults_not_sexed(&mut *db, id).await?;
    let found = reckoned(db, &all).await?;
    let (rows, columns) = (lowest(&found.mean_of_females), lowest(&found.mean_of_males));
    let female = |place: &usize| edge(&all, found.females.get(*place), found.mean_of_females.get(*place));
    let male = |place: &usize| edge(&all, found.males.get(*place), found.mean_of_males.get(*place));
    let cell = |row: usize, column: usize| found.kinship.get(row).and_then(|row| row.get(column)).copied().unwrap_or_default();
    let best = found.best_pairs().into_iter().take(BEST).filter_map(|pair| {
        let of = |tag: &String, tags: &[String], means: &[f64]| {
            let place = tags.iter().position(|known| known == tag)?;
            edge(&all, Some(tag), means.get(place))
        };
        Some(Pair {
            female: of(&pair.female, &found.females, &found.mean_of_females)?,
            male: of(&pair.male, &found.males, &found.mean_of_males)?,
            inbreeding: pair.inbreeding,
            mean: pair.mean_kinship,
        })
    });
    Ok(Table {
        best: best.collect(),
        females: rows.iter().filter_map(female).collect(),
        males: columns.iter().filter_map(male).collect(),
        cells: rows.iter().map(|row| columns.iter().map(|column| cell(*row, *column)).collect()).collect(),
        left_out: (found.females.len().saturating_sub(rows.len()), found.males.len().saturating_sub(columns.len())),
        species,
        not_sexed,
    })
}

/// The places of those with the lowest mean kinship, as many as the table takes, in the order given.
fn lowest(means: &[f64]) -> Vec<usize> {
    let mut places: Vec<(f64, usize)> = means.iter().copied().zip(0..).collect();
    places.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.1.cmp(&other.1)));
    places.truncate(MOST);
    let mut places: Vec<usize> = places.into_iter().map(|(_, place)| place).collect();
    places.sort_unstable();
    places
}

fn edge(all: &[Breeder], tag: Option<&String>, mean: Option<&f64>) -> Option<Edge> {
    let breeder = all.iter().find(|one| Some(&one.tag) == tag)?;
    Some(Edge { id: breeder.id, tag: breeder.tag.clone(), suspected: breeder.sex_basis == SexBasis::Suspected, mean: *mean? })
}
