//! The lineage of an animal or a cohort: a picture, the same as a table, and as a file.

mod picture;

use askama::Template;
use axum::extract::State;
use sqlx::SqliteConnection;

use self::picture::{Picture, Told};
use crate::animals;
use crate::breeding::model::Kin;
use crate::breeding::model::lineage::{GENERATIONS, Relative, lineage};
use crate::breeding::store;
use crate::cohorts;
use crate::house::app::App;
use crate::house::chart::{self, Figures};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::{AnimalId, CohortId};
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::reckoning::lineage::Side;

/// A row of the table.
struct Row {
    generation: String,
    told: Told,
    /// The one that it stands beside.
    of: Option<Told>,
}

/// A lineage, told.
struct View {
    species: String,
    label: String,
    path: String,
    picture: Picture,
    rows: Vec<Row>,
    cut_off: bool,
}

#[derive(Template)]
#[template(path = "breeding/lineage.html")]
struct LineagePage {
    layout: Layout,
    view: View,
}

pub(in crate::breeding) async fn of_animal(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let view = View::of(&mut *app.read().await?, Kin::Animal(id)).await?;
    page(&LineagePage { layout: Layout::of(&app, &me, Section::Animals).await?, view })
}

pub(in crate::breeding) async fn of_cohort(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>) -> Answer {
    let view = View::of(&mut *app.read().await?, Kin::Cohort(id)).await?;
    page(&LineagePage { layout: Layout::of(&app, &me, Section::Cohorts).await?, view })
}

pub(in crate::breeding) async fn csv_of_animal(State(app): State<App>, Path(id): Path<AnimalId>) -> Answer {
    View::of(&mut *app.read().await?, Kin::Animal(id)).await?.download()
}

pub(in crate::breeding) async fn csv_of_cohort(State(app): State<App>, Path(id): Path<CohortId>) -> Answer {
    View::of(&mut *app.read().await?, Kin::Cohort(id)).await?.download()
}

impl View {
    async fn of(db: &mut SqliteConnection, of: Kin) -> Result<Self, AppError> {
        let (species_id, species, label, path) = match of {
            Kin::Animal(id) => {
                let animal = animals::store::require(&mut *db, id).await?;
                (animal.species_id, animal.species_name, animal.tag, paths::animal(&id))
            }
            Kin::Cohort(id) => {
                let cohort = cohorts::store::require(&mut *db, id).await?;
                (cohort.species_id, cohort.species, cohort.code, paths::cohort(&id))
            }
        };
        let kin = store::kindred(db, species_id).await?;
        let found = lineage(&kin, of);
        let told = |relative: &Relative| Told::of(&kin, relative, found.relatives.get(relative.next_to));
        let rows = found.relatives.iter().enumerate().map(|(place, relative)| Row {
            generation: generation(relative, place),
            told: told(relative),
            of: (place > 0).then(|| found.relatives.get(relative.next_to).map(told)).flatten(),
        });
        let (rows, (tree, boxes)) = (rows.collect(), found.drawn());
        Ok(Self { picture: Picture::of(&kin, &label, &tree, &boxes), rows, species, label, path, cut_off: found.cut_off })
    }

    fn download(&self) -> Answer {
        let mut figures = Figures::new(&["generation", "who", "what", "state", "of"]).with_words(&[1, 2, 3, 4]);
        for row in &self.rows {
            let of = row.of.as_ref().map_or_else(|| "–".to_owned(), |of| of.name.clone());
            figures.rows.push(vec![row.generation.clone(), row.told.name.clone(), row.told.what.clone(), row.told.state.clone(), of]);
        }
        chart::download(&figures, &format!("lineage-{}", self.label))
    }

    /// How far it goes.
    fn generations(&self) -> u32 {
        GENERATIONS
    }
}

/// A generation in words, the number first so that a file can be sorted by it.
fn generation(relative: &Relative, place: usize) -> String {
    let name = match (place, relative.generation, relative.side) {
        (0, _, _) => return "0: itself".to_owned(),
        (_, 0, _) => return "0: part of it".to_owned(),
        (_, 1, Side::Up) => "parents",
        (_, 2, Side::Up) => "grandparents",
        (_, 3, Side::Up) => "great-grandparents",
        (_, _, Side::Up) => "their parents",
        (_, 1, Side::Down) => "young",
        (_, 2, Side::Down) => "young of its young",
        (_, _, Side::Down) => "further on",
    };
    let sign = if relative.side == Side::Up { "−" } else { "+" };
    format!("{sign}{}: {name}", relative.generation)
}
