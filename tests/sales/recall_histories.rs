//! A recall over random histories lists every sold relative and every cohort mate, and nothing else: held against a search that walks
//! the other way, from each animal and cohort up to all of its ancestors.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};
use rand::rngs::StdRng;
use rand::seq::IndexedRandom as _;
use rand::{RngExt as _, SeedableRng as _};
use silkward::animals::model::{AnimalStatus, NewAnimal, NewOrigin, NewSpan};
use silkward::cohorts::model::{Housing, NewCohort, NewLine, NewTags};
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, BuyerId, CohortId, HandoverLineId, SpeciesId};
use silkward::house::write::Write;
use silkward::reckoning::provenance::check_source;
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::{LossCause, SpanKind, SpanMethod};
use silkward::sales::model::recall::{Fate, Origin, Relation, Scope};
use silkward::sales::model::{Lot, NewBuyer};
use silkward::sales::store as sales;
use silkward::sales::store::recall::related;

use super::stock::{CALM, day, house, species};
use crate::support::TestHouse;

const I2: Stage = Stage::Instar(2);

/// A house that breeds at random.
struct Random {
    rng: StdRng,
    species: SpeciesId,
    first: NaiveDate,
    animals: Vec<AnimalId>,
    cohorts: Vec<CohortId>,
}

impl Random {
    /// Founders, then so many sacs, splits, tags, moults, deaths and sales in any order.
    async fn history(house: &TestHouse, seed: u64) -> Self {
        let mut random = Self {
            rng: StdRng::seed_from_u64(seed),
            species: species(house, CALM).await,
            first: day("2024-01-01"),
            animals: vec![],
            cohorts: vec![],
        };
        let lead = house.person("Ada", "lead").await.id();
        let mut write = house.app.write(Some(lead)).await.unwrap();
        // As introductions stood in the book before there was an hour.
        sqlx::query("DROP TRIGGER introduction_can_be").execute(write.db()).await.unwrap();
        for name in ["One", "Two", "Three"] {
            let new = NewBuyer { name: name.to_owned(), contact: String::new(), address: String::new() };
            sales::insert_buyer(&mut write, &new).await.unwrap();
        }
        for _ in 0..4 {
            random.founder(&mut write).await;
        }
        random.bought(&mut write).await;
        for step in 0..26 {
            match random.rng.random_range(0..12) {
                0..3 => random.sac(&mut write, step).await,
                3 | 4 => random.split(&mut write).await,
                5..8 => random.tag(&mut write).await,
                8 => random.moult(&mut write, step).await,
                9 => random.die(&mut write).await,
                _ => random.sell(&mut write, house).await,
            }
        }
        for _ in 0..3 {
            random.sell(&mut write, house).await;
        }
        write.commit(Change::new("test.history", "house", ""), "/").await.unwrap();
        random
    }

    fn on(&self, step: u64) -> NaiveDate {
        self.first + Days::new(30 + step * 20)
    }

    async fn founder(&mut self, write: &mut Write) {
        let origin = NewOrigin::Bought { supplier: "A breeder".to_owned(), papers: String::new() };
        let mut new = NewAnimal::new(self.species, origin, check_source("C").unwrap(), self.first);
        new.span = Some(NewSpan { kind: SpanKind::LegSpan, mm: 60, method: SpanMethod::Measured });
        self.animals.push(silkward::animals::store::insert(write, &new).await.unwrap());
    }

    async fn cohort(&mut self, write: &mut Write, origin: silkward::cohorts::model::NewOrigin, started_on: NaiveDate) {
        let new = NewCohort {
            code: None,
            species_id: self.species,
            origin,
            source: check_source("C").unwrap(),
            locality: String::new(),
            started_on,
            housing: Housing::Communal,
            shelf: None,
            position: None,
            span_mm: Some(12),
            note: String::new(),
            counts: vec![(I2, self.rng.random_range(12..40))],
        };
        self.cohorts.push(silkward::cohorts::store::insert(write, &new).await.unwrap());
    }

    async fn bought(&mut self, write: &mut Write) {
        let origin = silkward::cohorts::model::NewOrigin::Bought { supplier: "A breeder".to_owned(), papers: String::new() };
        self.cohort(write, origin, self.first).await;
    }

    /// A sac of one dam: its sire is written, or is one of those she was paired with, or nobody knows.
    async fn sac(&mut self, write: &mut Write, step: u64) {
        let dam = *self.animals.choose(&mut self.rng).unwrap();
        let laid_on = self.on(step);
        let mut sire = None;
        for _ in 0..self.rng.random_range(0..3) {
            let male = *self.animals.choose(&mut self.rng).unwrap();
            if male == dam {
                continue;
            }
            if self.rng.random_bool(0.4) {
                sire = Some(male);
                continue;
            }
            // Both were in the house on that day.
            let (came, left): (NaiveDate, Option<NaiveDate>) =
                sqlx::query_as("SELECT MAX(started_on), MIN(status_on) FROM animal WHERE id IN (?, ?)")
                    .bind(dam)
                    .bind(male)
                    .fetch_one(write.db())
                    .await
                    .unwrap();
            let asked = laid_on - Days::new(self.rng.random_range(0..60));
            let paired_on = asked.max(came).min(left.unwrap_or(laid_on)).min(laid_on);
            if paired_on < came {
                continue;
            }
            sqlx::query("INSERT INTO pairing (dam_id, sire_id, paired_on, at) VALUES (?, ?, ?, '2026-01-01T00:00:00+00:00')")
                .bind(dam)
                .bind(male)
                .bind(paired_on)
                .execute(write.db())
                .await
                .unwrap();
            // They were put together on that day.
            sqlx::query(
                "INSERT INTO introduction (pairing_id, day, insertion, outcome, band, clearance, persons, at)
                 SELECT id, paired_on, 'unknown', 'unknown', 0, 0, 1, at FROM pairing WHERE id = last_insert_rowid()",
            )
            .execute(write.db())
            .await
            .unwrap();
        }
        let sac = sqlx::query_scalar(
            "INSERT INTO sac (species_id, dam_id, sire_id, laid_on, incubation, state, ended_on, created_at)
             VALUES (?1, ?2, ?3, ?4, 'with-dam', 'opened', ?4, '2026-01-01T00:00:00+00:00') RETURNING id",
        )
        .bind(self.species)
        .bind(dam)
        .bind(sire)
        .bind(laid_on)
        .fetch_one(write.db())
        .await
        .unwrap();
        self.cohort(write, silkward::cohorts::model::NewOrigin::Sac(silkward::house::ids::SacId(sac)), laid_on).await;
    }

    async fn alive(&self, write: &mut Write, cohort: CohortId) -> u32 {
        u32::try_from(silkward::cohorts::store::alive(write.db(), cohort).await.unwrap()).unwrap()
    }

    /// Half of a cohort goes into one of its own.
    async fn split(&mut self, write: &mut Write) {
        let from = *self.cohorts.choose(&mut self.rng).unwrap();
        let alive = self.alive(write, from).await;
        if alive < 4 {
            return;
        }
        let part: i64 = sqlx::query_scalar(
            "INSERT INTO cohort (code, species_id, origin, parent_cohort_id, source_code, started_on, created_at)
             SELECT 'P-' || (SELECT COUNT(*) FROM cohort), species_id, 'split', id, 'C', '2026-03-01', '2026-03-01T00:00:00+00:00'
             FROM cohort WHERE id = ? RETURNING id",
        )
        .bind(from)
        .fetch_one(write.db())
        .await
        .unwrap();
        for (cohort, kind, source, sink) in [(from.0, "moved", "i2", "moved"), (part, "received", "in", "i2")] {
            sqlx::query("INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at) VALUES (?, '2026-03-01', ?, ?, ?, ?, '2026-03-01T00:00:00+00:00')")
                .bind(cohort)
                .bind(kind)
                .bind(source)
                .bind(sink)
                .bind(alive / 2)
                .execute(write.db())
                .await
                .unwrap();
        }
        self.cohorts.push(CohortId(part));
    }

    async fn tag(&mut self, write: &mut Write) {
        let cohort = *self.cohorts.choose(&mut self.rng).unwrap();
        if self.alive(write, cohort).await < 3 {
            return;
        }
        let tags = NewTags { day: day("2026-03-02"), stage: I2, quantity: self.rng.random_range(1..=2), shelf: None, note: String::new() };
        self.animals.extend(silkward::cohorts::store::separate_and_tag(write, cohort, &tags).await.unwrap());
    }

    /// A moult between a pairing and a sac makes the pairing void.
    async fn moult(&mut self, write: &mut Write, step: u64) {
        let animal = *self.animals.choose(&mut self.rng).unwrap();
        let on = self.on(step) - Days::new(self.rng.random_range(0..40));
        sqlx::query("INSERT INTO moult (animal_id, day, at) VALUES (?, ?, '2026-01-01T00:00:00+00:00')")
            .bind(animal)
            .bind(on)
            .execute(write.db())
            .await
            .unwrap();
    }

    async fn die(&mut self, write: &mut Write) {
        let animal = *self.animals.choose(&mut self.rng).unwrap();
        let today = write.today;
        let _ = silkward::animals::store::record_leaving(write, animal, AnimalStatus::Dead, Some(LossCause::Unknown), today).await;
        let cohort = *self.cohorts.choose(&mut self.rng).unwrap();
        if self.alive(write, cohort).await > 2 {
            let lost = NewLine::lost(day("2026-03-03"), I2, 1, LossCause::Unknown);
            silkward::cohorts::store::post(write, cohort, &lost).await.unwrap();
        }
    }

    /// One animal, a number out of a cohort, or both; now and then some leave without a handover.
    async fn sell(&mut self, write: &mut Write, house: &TestHouse) {
        let buyer = BuyerId(self.rng.random_range(1..=3));
        let (animal, cohort) = (*self.animals.choose(&mut self.rng).unwrap(), *self.cohorts.choose(&mut self.rng).unwrap());
        let alive = self.alive(write, cohort).await;
        let here = silkward::animals::store::require(write.db(), animal).await.unwrap().is_alive();
        if self.rng.random_bool(0.15) && alive > 2 {
            let today = write.today;
            silkward::cohorts::store::post(write, cohort, &NewLine::sold(today, I2, 1)).await.unwrap();
            return;
        }
        if !here && alive < 3 {
            return;
        }
        let handover = sales::insert_handover(write, buyer, "").await.unwrap();
        if here && self.rng.random_bool(0.8) {
            sales::add_animal_line(write, handover, animal).await.unwrap();
        }
        if alive > 2 {
            let quantity = self.rng.random_range(1..=alive.min(4));
            sales::add_lot_line(write, handover, Lot { cohort, stage: I2, quantity }).await.unwrap();
        }
        match sales::hand_over(write, &house.app, handover, Some("a test")).await {
            Ok(_) => {}
            Err(_) => sales::cancel(write, handover).await.unwrap(),
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Node {
    Animal(i64),
    Cohort(i64),
}

/// The raw tables, and the steps from each animal or cohort up to what it came from: how many generations, and whether for certain.
struct Book {
    up: BTreeMap<Node, Vec<(Node, u32, bool)>>,
}

impl Book {
    async fn read(house: &TestHouse) -> Self {
        let mut db = house.app.read().await.unwrap();
        let mut up: BTreeMap<Node, Vec<(Node, u32, bool)>> = BTreeMap::new();
        let animals: Vec<(i64, Option<i64>)> = sqlx::query_as(
            "SELECT animal.id, ledger_line.cohort_id FROM animal LEFT JOIN ledger_line ON ledger_line.id = animal.origin_line_id",
        )
        .fetch_all(&mut *db)
        .await
        .unwrap();
        for (animal, cohort) in animals {
            up.insert(Node::Animal(animal), cohort.map(|cohort| (Node::Cohort(cohort), 0, true)).into_iter().collect());
        }
        let pairings: Vec<(i64, i64, NaiveDate)> =
            sqlx::query_as("SELECT dam_id, sire_id, paired_on FROM pairing").fetch_all(&mut *db).await.unwrap();
        let moults: Vec<(i64, NaiveDate)> = sqlx::query_as("SELECT animal_id, day FROM moult").fetch_all(&mut *db).await.unwrap();
        type Row = (i64, Option<i64>, Option<i64>, Option<i64>, Option<NaiveDate>);
        let cohorts: Vec<Row> = sqlx::query_as(
            "SELECT cohort.id, parent_cohort_id, sac.dam_id, sac.sire_id, sac.laid_on FROM cohort LEFT JOIN sac ON sac.id = cohort.sac_id",
        )
        .fetch_all(&mut *db)
        .await
        .unwrap();
        for (cohort, parent, dam, sire, laid_on) in cohorts {
            let mut steps: Vec<(Node, u32, bool)> = parent.map(|parent| (Node::Cohort(parent), 0, true)).into_iter().collect();
            steps.extend(dam.map(|dam| (Node::Animal(dam), 1, true)));
            let sires: BTreeSet<i64> = match (sire, dam, laid_on) {
                (Some(sire), _, _) => BTreeSet::from([sire]),
                (None, Some(dam), Some(laid_on)) => {
                    let stands = |paired_on: NaiveDate| !moults.iter().any(|(who, on)| *who == dam && *on > paired_on && *on <= laid_on);
                    let with = pairings.iter().filter(|(who, _, on)| *who == dam && *on <= laid_on && stands(*on));
                    with.map(|(_, sire, _)| *sire).collect()
                }
                _ => BTreeSet::new(),
            };
            let sure = sires.len() == 1;
            steps.extend(sires.into_iter().map(|sire| (Node::Animal(sire), 1, sure)));
            up.insert(Node::Cohort(cohort), steps);
        }
        Self { up }
    }

    /// Every path from something up to another: its generations, and whether it is certain all the way.
    fn paths(&self, from: Node, to: Node) -> Vec<(u32, bool)> {
        if from == to {
            return vec![(0, true)];
        }
        let mut found = Vec::new();
        for (next, generations, sure) in &self.up[&from] {
            found.extend(self.paths(*next, to).into_iter().map(|(more, rest)| (generations + more, *sure && rest)));
        }
        found
    }

    fn head(&self, of: Node) -> Option<Node> {
        let up = self.up[&of].iter().find(|(_, generations, _)| *generations == 0).map(|(next, ..)| *next);
        match (up, of) {
            (Some(next), _) => self.head(next),
            (None, Node::Cohort(_)) => Some(of),
            (None, Node::Animal(_)) => None,
        }
    }

    /// What a recall must reach, with its fewest generations and whether it is certain.
    fn reached(&self, origin: Node, scope: Scope) -> BTreeMap<Node, (u32, bool)> {
        let start = if scope.mates { self.head(origin).unwrap_or(origin) } else { origin };
        let mut reached = BTreeMap::new();
        for node in self.up.keys() {
            let paths: Vec<(u32, bool)> =
                self.paths(*node, start).into_iter().filter(|(generations, _)| scope.descent || *generations == 0).collect();
            if let Some(least) = paths.iter().map(|(generations, _)| *generations).min() {
                reached.insert(*node, (least, paths.iter().any(|(_, sure)| *sure)));
            }
        }
        reached.entry(origin).or_insert((0, true));
        reached
    }
}

/// Everything that the book says was handed over, read plainly.
async fn handed_over(house: &TestHouse) -> Vec<(i64, Option<i64>, Option<i64>, i64)> {
    sqlx::query_as(
        "SELECT line.id, line.animal_id, line.cohort_id, line.quantity FROM handover_line AS line
         JOIN handover ON handover.id = line.handover_id WHERE handover.state = 'done'",
    )
    .fetch_all(&house.app.database.reader)
    .await
    .unwrap()
}

async fn hold_against_the_book(house: &TestHouse, book: &Book, origin: Node, scope: Scope) -> (usize, u32, bool) {
    let mut db = house.app.read().await.unwrap();
    let from = match origin {
        Node::Animal(id) => Origin::Animal(AnimalId(id)),
        Node::Cohort(id) => Origin::Cohort(CohortId(id)),
    };
    let found = related(&mut db, from, scope).await.unwrap();
    let reached = book.reached(origin, scope);
    let wanted: BTreeSet<(i64, i64)> = handed_over(house)
        .await
        .into_iter()
        .filter(|(_, animal, cohort, _)| {
            animal.map(Node::Animal).or(cohort.map(Node::Cohort)).is_some_and(|node| reached.contains_key(&node))
        })
        .map(|(line, _, _, quantity)| (line, quantity))
        .collect();
    let listed: Vec<(i64, i64)> =
        found.iter().filter_map(|one| one.line.map(|HandoverLineId(line)| (line, i64::from(one.quantity)))).collect();
    assert_eq!(listed.len(), listed.iter().collect::<BTreeSet<_>>().len(), "{origin:?} {scope:?}: a line is listed twice");
    assert_eq!(listed.into_iter().collect::<BTreeSet<_>>(), wanted, "{origin:?} {scope:?}");
    let mut whole: BTreeMap<Node, u32> = BTreeMap::new();
    let mut most = 0;
    for one in &found {
        let node = one.animal.map(|id| Node::Animal(id.0)).or(one.cohort.map(|id| Node::Cohort(id.0))).unwrap();
        let (generation, sure) = reached[&node];
        assert_eq!((one.generation, one.certain), (generation, sure), "{origin:?} {scope:?}: {one:?}");
        let relation = if node == origin {
            Relation::Itself
        } else if generation == 0 {
            Relation::Mate
        } else {
            Relation::Descendant
        };
        assert_eq!(one.relation, relation);
        assert!(one.fate != Fate::Returned);
        *whole.entry(node).or_default() += one.quantity;
        most = most.max(if one.line.is_some() { generation } else { 0 });
    }
    for node in reached.keys() {
        // Of every animal one; of every cohort all that are alive, lost or sold, and none twice.
        let wanted: i64 = match node {
            Node::Animal(_) => 1,
            Node::Cohort(id) => sqlx::query_scalar(
                "SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance WHERE cohort_id = ? AND bucket NOT IN ('in', 'tagged', 'moved', 'variance')",
            )
            .bind(id)
            .fetch_one(&mut *db)
            .await
            .unwrap(),
        };
        assert_eq!(i64::from(whole.get(node).copied().unwrap_or(0)), wanted, "{origin:?} {scope:?}: {node:?}");
    }
    (wanted.len(), most, found.iter().any(|one| !one.certain))
}

#[tokio::test]
async fn a_recall_lists_them_all_and_none_else() {
    let (mut lines, mut deepest, mut doubtful) = (0, 0, 0);
    for seed in 0..6 {
        let house = house().await;
        let random = Random::history(&house, seed).await;
        let book = Book::read(&house).await;
        let animals = random.animals.iter().map(|id| Node::Animal(id.0));
        let origins: Vec<Node> = animals.chain(random.cohorts.iter().map(|id| Node::Cohort(id.0))).collect();
        for origin in origins {
            for (mates, descent) in [(false, false), (true, false), (false, true), (true, true)] {
                let scope = Scope { mates, descent, rack: false };
                let (sold, most, doubt) = hold_against_the_book(&house, &book, origin, scope).await;
                lines += sold;
                deepest = deepest.max(most);
                doubtful += usize::from(doubt);
            }
        }
    }
    // The histories must be worth searching.
    assert!(lines > 300 && deepest >= 2 && doubtful > 10, "{lines} sold lines, {deepest} generations, {doubtful} in doubt");
}
