//! A small stock for the tests of cohorts: species, a shelf, and cohorts with a count.

use chrono::NaiveDate;
use silkward::cohorts::model::{Housing, NewCohort, NewLine, NewOrigin};
use silkward::cohorts::store;
use silkward::house::app::App;
use silkward::house::audit::Change;
use silkward::house::errors::AppError;
use silkward::house::ids::{CohortId, LineId, ShelfId, SpeciesId};
use silkward::reckoning::provenance::check_source;
use silkward::reckoning::stage::Stage;

/// A day of April 2026; the test house's clock stands at 15 April.
pub fn april(day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 4, day).unwrap()
}

/// The starter library, a room, a rack and three shelves (1 to 3).
pub async fn library(app: &App) {
    let mut write = app.write(None).await.unwrap();
    silkward::species::store::seed_library(&mut write).await.unwrap();
    let room = silkward::rooms::model::NewRoom { name: "Quiet room".to_owned(), walk_order: 1 };
    let room = silkward::rooms::store::insert_room(&mut write, &room).await.unwrap();
    let rack = silkward::rooms::model::NewRack { name: "B".to_owned(), walk_order: 1, shelves: 3 };
    silkward::rooms::store::insert_rack(&mut write, room, &rack).await.unwrap();
    write.commit(Change::new("test.stocked", "site 1", ""), "/").await.unwrap();
}

/// The id of a species by its accepted name.
pub async fn species(app: &App, name: &str) -> SpeciesId {
    sqlx::query_scalar("SELECT id FROM species WHERE accepted_name = ?").bind(name).fetch_one(&app.database.writer).await.unwrap()
}

/// A bought batch that began on 1 April with these counts.
pub fn batch(species_id: SpeciesId, counts: &[(Stage, u32)]) -> NewCohort {
    NewCohort {
        code: None,
        species_id,
        origin: NewOrigin::Bought { supplier: "A friend of the house".to_owned(), papers: String::new() },
        source: check_source("C").unwrap(),
        locality: String::new(),
        started_on: april(1),
        housing: Housing::Communal,
        shelf: Some(ShelfId(1)),
        position: None,
        span_mm: None,
        note: String::new(),
        counts: counts.to_vec(),
    }
}

/// Puts a bought batch of *Brachypelma hamorii* into the book.
pub async fn cohort(app: &App, counts: &[(Stage, u32)]) -> CohortId {
    let species = species(app, "Brachypelma hamorii").await;
    let mut write = app.write(None).await.unwrap();
    let id = store::insert(&mut write, &batch(species, counts)).await.unwrap();
    write.commit(Change::new("test.cohort", format!("cohort {id}"), ""), "/").await.unwrap();
    id
}

/// Posts one line in a change of its own.
pub async fn post(app: &App, cohort: CohortId, line: &NewLine) -> Result<LineId, AppError> {
    let mut write = app.write(None).await.unwrap();
    let id = store::post(&mut write, cohort, line).await?;
    write.commit(Change::new("test.line", format!("cohort {cohort}"), ""), "/").await?;
    Ok(id)
}

/// Takes one line back in a change of its own.
pub async fn reverse(app: &App, cohort: CohortId, line: LineId) -> Result<LineId, AppError> {
    let mut write = app.write(None).await.unwrap();
    let id = store::reverse(&mut write, cohort, line).await?;
    write.commit(Change::new("test.reversal", format!("cohort {cohort}"), ""), "/").await?;
    Ok(id)
}

/// What a refusal says, all messages in one.
#[track_caller]
pub fn refusal<T: std::fmt::Debug>(answer: Result<T, AppError>) -> String {
    match answer {
        Err(AppError::Refused(mistakes)) => mistakes.all().map(|mistake| mistake.message.clone()).collect::<Vec<_>>().join(" "),
        other => panic!("not refused: {other:?}"),
    }
}
