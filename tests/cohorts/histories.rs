//! Thousands of random histories through the store, on a real file, several writers at once. After each: nothing has
//! leaked, nothing is below zero on any day, and the database's balances are those of the reckoning.

use std::collections::BTreeMap;

use rand::prelude::*;
use rand::rngs::StdRng;
use silkward::cohorts::model::{NewLine, NewSplit, NewTags};
use silkward::cohorts::store;
use silkward::house::app::App;
use silkward::house::audit::Change;
use silkward::house::clock::Clock;
use silkward::house::config::Config;
use silkward::house::database::Durability;
use silkward::house::errors::AppError;
use silkward::house::ids::{CohortId, LineId};
use silkward::house::write::Write;
use silkward::reckoning::ledger::{Bucket, Line, LineKind, balance_at, replay};
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::LossCause;
use sqlx::SqliteConnection;

use super::stock::{april, batch, library, species};
use crate::support::noon;

/// Histories in all; each is a cohort of its own with what was split from it.
const HISTORIES: u64 = 2000;
/// Entries tried in each history.
const ENTRIES: usize = 9;
/// Histories that one writer puts into one change before it looks at them.
const BATCH: u64 = 10;

const STAGES: [Stage; 5] = [Stage::Egg, Stage::PostEmbryo, Stage::Instar(1), Stage::Instar(2), Stage::Instar(3)];

/// One random history: the cohort and all that was split from it.
async fn history(write: &mut Write, species: silkward::house::ids::SpeciesId, random: &mut StdRng) -> Vec<CohortId> {
    let counts: Vec<(Stage, u32)> =
        (0..random.random_range(1..3)).map(|_| (STAGES[random.random_range(0..4)], random.random_range(1..40))).collect();
    let mut cohorts = vec![store::insert(write, &batch(species, &counts)).await.unwrap()];
    for _ in 0..ENTRIES {
        let cohort = *cohorts.choose(random).unwrap();
        let answer = entry(write, cohort, random).await;
        match answer {
            Ok(Some(child)) => cohorts.push(child),
            Ok(None) | Err(AppError::Refused(_) | AppError::NotFound) => {}
            Err(error) => panic!("an entry failed in another way than being refused: {error:?}"),
        }
    }
    cohorts
}

/// One random entry, which may well be one that the book must refuse. Gives the new cohort of a split.
async fn entry(write: &mut Write, cohort: CohortId, random: &mut StdRng) -> Result<Option<CohortId>, AppError> {
    // An entry that is refused half way leaves nothing: as on the pages, where the whole change is dropped.
    sqlx::query("SAVEPOINT entry").execute(write.db()).await?;
    let answer = one_entry(write, cohort, random).await;
    if answer.is_err() {
        sqlx::query("ROLLBACK TO entry").execute(write.db()).await?;
    }
    sqlx::query("RELEASE entry").execute(write.db()).await?;
    answer
}

async fn one_entry(write: &mut Write, cohort: CohortId, random: &mut StdRng) -> Result<Option<CohortId>, AppError> {
    let day = april(random.random_range(1..17));
    let (stage, to) = (*STAGES.choose(random).unwrap(), *STAGES.choose(random).unwrap());
    let quantity = random.random_range(0..25);
    let line = match random.random_range(0..10) {
        0 => NewLine::received(day, stage, quantity),
        1 | 2 => NewLine::moulted(day, stage, to, quantity),
        3 => NewLine::lost(day, stage, quantity, *LossCause::ALL.choose(random).unwrap()),
        4 => NewLine::sold(day, stage, quantity),
        5 => {
            let tags = NewTags { day, stage, quantity: quantity.min(3), shelf: None, note: String::new() };
            return store::separate_and_tag(write, cohort, &tags).await.map(|_| None);
        }
        6 => {
            let new = NewSplit { day, stage, quantity, code: None, shelf: None, position: None, note: String::new() };
            return store::split(write, cohort, &new).await.map(Some);
        }
        7 => {
            let counted = BTreeMap::from([(stage, quantity), (to, random.random_range(0..25))]);
            return store::recount(write, cohort, day, &counted, "").await.map(|_| None);
        }
        8 => {
            let held = i64::from(quantity) - 8;
            return store::hold_back(write, cohort, day, held, "").await.map(|()| None);
        }
        _ => {
            let lines = store::lines(write.db(), cohort).await?;
            let line = lines.choose(random).map_or(LineId(i64::MAX), |line| LineId(line.id));
            return store::reverse(write, cohort, line).await.map(|_| None);
        }
    };
    store::post(write, cohort, &line).await.map(|_| None)
}

/// All that must hold of a cohort after any history. Gives how many lines it has.
async fn check(db: &mut SqliteConnection, cohort: CohortId) -> usize {
    let lines = store::lines(&mut *db, cohort).await.unwrap();
    let book = replay(&lines).unwrap_or_else(|error| panic!("cohort {cohort}: {error}: {lines:?}"));
    assert!(book.conserved(), "cohort {cohort} leaks: {lines:?}");
    for day in lines.iter().map(|line| line.day) {
        assert!(balance_at(&lines, day).unwrap().conserved(), "cohort {cohort} on {day}: {lines:?}");
    }
    let balances: Vec<(Bucket, u32)> =
        sqlx::query_as("SELECT bucket, quantity FROM ledger_balance WHERE cohort_id = ?").bind(cohort).fetch_all(&mut *db).await.unwrap();
    for (bucket, quantity) in &balances {
        assert_eq!(*quantity, book.of(*bucket), "cohort {cohort}, {bucket}: {lines:?}");
    }
    assert_eq!(store::alive(&mut *db, cohort).await.unwrap(), i64::from(book.alive()));
    check_animals(db, cohort, &lines).await;
    lines.len()
}

/// Each line that tagged has exactly its animals, and one taken back has none.
async fn check_animals(db: &mut SqliteConnection, cohort: CohortId, lines: &[Line]) {
    for line in lines.iter().filter(|line| line.kind == LineKind::Tagged) {
        let animals = store::tagged_by(&mut *db, cohort, LineId(line.id)).await.unwrap().len();
        assert_eq!(animals, line.quantity as usize, "cohort {cohort}, line {}", line.id);
    }
}

async fn writer(app: App, seeds: Vec<u64>) -> (usize, usize) {
    let species = species(&app, "Brachypelma hamorii").await;
    let (mut cohorts_seen, mut lines_seen) = (0, 0);
    for batch in seeds.chunks(BATCH as usize) {
        let mut write = app.write(None).await.unwrap();
        let mut cohorts = Vec::new();
        for seed in batch {
            let mut random = StdRng::seed_from_u64(*seed);
            cohorts.extend(history(&mut write, species, &mut random).await);
        }
        write.commit(Change::new("test.histories", "site 1", ""), "/").await.unwrap();
        tokio::task::yield_now().await;
        let mut db = app.read().await.unwrap();
        for cohort in &cohorts {
            lines_seen += check(&mut db, *cohort).await;
        }
        cohorts_seen += cohorts.len();
    }
    (cohorts_seen, lines_seen)
}

async fn opened(folder: &std::path::Path) -> App {
    let config = Config::new(folder.to_path_buf(), "127.0.0.1:7373".parse().unwrap(), None).unwrap();
    let app = App::open(config, Clock::standing_at(noon()), Durability::Building).await.unwrap();
    library(&app).await;
    app
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn random_histories_keep_every_count_whole() {
    let folder = tempfile::tempdir().unwrap();
    let app = opened(folder.path()).await;
    let tasks: Vec<_> = (0..4_u64)
        .map(|task| {
            let seeds = (0..HISTORIES).filter(|seed| seed % 4 == task).collect();
            tokio::spawn(writer(app.clone(), seeds))
        })
        .collect();
    let (mut cohorts, mut lines) = (0, 0);
    for task in tasks {
        let (some_cohorts, some_lines) = task.await.unwrap();
        cohorts += some_cohorts;
        lines += some_lines;
    }
    // Were nearly every entry refused, the histories would show nothing.
    assert!(cohorts as u64 > HISTORIES && lines as u64 > 2 * HISTORIES, "{cohorts} cohorts, {lines} lines");
    let moved: (i64, i64) = sqlx::query_as(
        "SELECT (SELECT SUM(quantity) FROM ledger_balance WHERE bucket = 'moved'),
                (SELECT COALESCE(SUM(CASE kind WHEN 'received' THEN line.quantity ELSE 0 END), 0) FROM ledger_line AS line
                 WHERE moved_line_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = line.id))",
    )
    .fetch_one(&app.database.writer)
    .await
    .unwrap();
    assert_eq!(moved.0, moved.1, "what left cohorts for others is what arrived there");
}

/// Twenty writers sell from the same thirty spiderlings at once: no more than thirty go.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn writers_at_once_never_sell_more_than_there_are() {
    let folder = tempfile::tempdir().unwrap();
    let app = opened(folder.path()).await;
    let species = species(&app, "Brachypelma hamorii").await;
    let mut write = app.write(None).await.unwrap();
    let cohort = store::insert(&mut write, &batch(species, &[(Stage::Instar(2), 30)])).await.unwrap();
    write.commit(Change::new("test.cohort", "cohort 1", ""), "/").await.unwrap();
    let sales: Vec<_> = (0..20).map(|_| tokio::spawn(sell(app.clone(), cohort))).collect();
    let mut sold = 0;
    for sale in sales {
        sold += i64::from(sale.await.unwrap());
    }
    let mut db = app.read().await.unwrap();
    assert_eq!((sold, store::alive(&mut db, cohort).await.unwrap()), (10, 0));
    check(&mut db, cohort).await;
}

/// Sells three, if three are there.
async fn sell(app: App, cohort: CohortId) -> bool {
    let mut write = app.write(None).await.unwrap();
    match store::post(&mut write, cohort, &NewLine::sold(april(10), Stage::Instar(2), 3)).await {
        Ok(_) => write.commit(Change::new("test.sold", "cohort 1", ""), "/").await.is_ok(),
        Err(AppError::Refused(_)) => false,
        Err(error) => panic!("{error:?}"),
    }
}
