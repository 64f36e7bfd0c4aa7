//! Who descends from whom: the book's walk against a walk by hand over random books.

use std::collections::{BTreeMap, BTreeSet};

use rand::rngs::StdRng;
use rand::{RngExt as _, SeedableRng as _};
use silkward::breeding::model::{Kin, Way};
use silkward::breeding::store;
use silkward::house::ids::{AnimalId, CohortId};

use crate::cohorts::stock::{library, species};
use crate::support::TestHouse;

/// A sac of the random book: its dam, the sire if he is written, and the day it was laid.
struct Laid {
    dam: i64,
    sire: Option<i64>,
    day: i64,
    cohort: i64,
}

/// A way down: how many generations, through which parent last, and whether it is certain.
type Path = (u32, Option<Way>, bool);

/// A random book, kept both in the database and as plain lists.
#[derive(Default)]
struct Book {
    animals: i64,
    cohorts: i64,
    /// The cohort that an animal was tagged out of.
    from_cohort: BTreeMap<i64, i64>,
    split_from: BTreeMap<i64, i64>,
    sacs: Vec<Laid>,
    /// Dam, sire, day.
    pairings: Vec<(i64, i64, i64)>,
    /// Dam, day.
    moults: Vec<(i64, i64)>,
}

fn day(number: i64) -> String {
    (chrono::NaiveDate::from_ymd_opt(2020, 1, 1).unwrap() + chrono::Days::new(u64::try_from(number).unwrap())).to_string()
}

impl Book {
    /// Six founders, then sacs of any of the animals so far; each cohort may be split and tagged from.
    async fn random(house: &TestHouse, seed: u64) -> Self {
        let mut chance = StdRng::seed_from_u64(seed);
        let mut book = Self::default();
        let mut write = house.app.write(None).await.unwrap();
        // As introductions stood in the book before there was an hour.
        sqlx::query("DROP TRIGGER introduction_can_be").execute(write.db()).await.unwrap();
        for _ in 0..6 {
            book.animal(&mut write, None).await;
        }
        let mut now = 10;
        for _ in 0..14 {
            let dam = chance.random_range(1..=book.animals);
            for _ in 0..chance.random_range(0..=2) {
                let sire = chance.random_range(1..=book.animals);
                if sire != dam {
                    book.pairings.push((dam, sire, now));
                    sqlx::query("INSERT INTO pairing (dam_id, sire_id, paired_on, at) VALUES (?, ?, ?, '2026-01-01T08:00:00+00:00')")
                        .bind(dam)
                        .bind(sire)
                        .bind(day(now))
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
                now += 1;
            }
            if chance.random_bool(0.3) {
                book.moults.push((dam, now));
                sqlx::query("INSERT INTO moult (animal_id, day, at) VALUES (?, ?, '2026-01-01T08:00:00+00:00')")
                    .bind(dam)
                    .bind(day(now))
                    .execute(write.db())
                    .await
                    .unwrap();
                now += 1;
            }
            let written = (chance.random_bool(0.3)).then(|| chance.random_range(1..=book.animals)).filter(|sire| *sire != dam);
            let cohort = book.sac(&mut write, dam, written, now).await;
            now += 1;
            let mut parts = vec![cohort];
            if chance.random_bool(0.4) {
                parts.push(book.part(&mut write, cohort).await);
            }
            for part in parts {
                for _ in 0..chance.random_range(0..=2) {
                    book.animal(&mut write, Some(part)).await;
                }
            }
        }
        write.commit(silkward::house::audit::Change::new("test.book", "site 1", ""), "/").await.unwrap();
        book
    }

    async fn animal(&mut self, write: &mut silkward::house::write::Write, from: Option<i64>) {
        self.animals += 1;
        let line: Option<i64> = match from {
            None => None,
            Some(cohort) => {
                for (kind, from, to) in [("received", "in", "i4"), ("tagged", "i4", "tagged")] {
                    sqlx::query(
                        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at)
                         VALUES (?, '2026-01-01', ?, ?, ?, 1, '2026-01-01T08:00:00+00:00')",
                    )
                    .bind(cohort)
                    .bind(kind)
                    .bind(from)
                    .bind(to)
                    .execute(write.db())
                    .await
                    .unwrap();
                }
                self.from_cohort.insert(self.animals, cohort);
                Some(sqlx::query_scalar("SELECT MAX(id) FROM ledger_line").fetch_one(write.db()).await.unwrap())
            }
        };
        sqlx::query(
            "INSERT INTO animal (id, tag, species_id, origin, origin_line_id, source_code, started_on, created_at)
             SELECT ?, ?, id, ?, ?, 'C', '2020-01-01', '2026-01-01T08:00:00+00:00' FROM species WHERE accepted_name = 'Brachypelma hamorii'",
        )
        .bind(self.animals)
        .bind(format!("T-{:03}", self.animals))
        .bind(if line.is_some() { "cohort" } else { "bought" })
        .bind(line)
        .execute(write.db())
        .await
        .unwrap();
    }

    async fn sac(&mut self, write: &mut silkward::house::write::Write, dam: i64, sire: Option<i64>, laid: i64) -> i64 {
        self.cohorts += 1;
        let sac = self.sacs.len() as i64 + 1;
        sqlx::query(
            "INSERT INTO sac (id, species_id, dam_id, sire_id, laid_on, incubation, state, ended_on, created_at)
             SELECT ?, species_id, ?, ?, ?, 'with-dam', 'opened', ?, '2026-01-01T08:00:00+00:00' FROM animal WHERE id = 1",
        )
        .bind(sac)
        .bind(dam)
        .bind(sire)
        .bind(day(laid))
        .bind(day(laid + 30))
        .execute(write.db())
        .await
        .unwrap();
        self.cohort(write, Some(sac), None).await;
        self.sacs.push(Laid { dam, sire, day: laid, cohort: self.cohorts });
        self.cohorts
    }

    async fn part(&mut self, write: &mut silkward::house::write::Write, of: i64) -> i64 {
        self.cohorts += 1;
        self.cohort(write, None, Some(of)).await;
        self.split_from.insert(self.cohorts, of);
        self.cohorts
    }

    async fn cohort(&self, write: &mut silkward::house::write::Write, sac: Option<i64>, parent: Option<i64>) {
        sqlx::query(
            "INSERT INTO cohort (id, code, species_id, origin, sac_id, parent_cohort_id, source_code, started_on, created_at)
             SELECT ?, ?, species_id, ?, ?, ?, 'C', '2020-01-01', '2026-01-01T08:00:00+00:00' FROM animal WHERE id = 1",
        )
        .bind(self.cohorts)
        .bind(format!("C-{:03}", self.cohorts))
        .bind(if sac.is_some() { "sac" } else { "split" })
        .bind(sac)
        .bind(parent)
        .execute(write.db())
        .await
        .unwrap();
    }

    /// The males that may have sired a sac: written, or of every pairing of its dam that no moult came after.
    fn sires(&self, sac: &Laid) -> BTreeSet<i64> {
        if let Some(sire) = sac.sire {
            return BTreeSet::from([sire]);
        }
        let stands = |paired: i64| !self.moults.iter().any(|(dam, shed)| *dam == sac.dam && *shed > paired && *shed <= sac.day);
        let standing = self.pairings.iter().filter(|(dam, _, paired)| *dam == sac.dam && *paired <= sac.day && stands(*paired));
        standing.map(|(_, sire, _)| *sire).collect()
    }

    /// One step down: what comes directly out of an animal or a cohort, with the generations, the way and whether it is certain.
    fn steps(&self, kin: Kin) -> Vec<(Kin, u32, Option<Way>, bool)> {
        match kin {
            Kin::Animal(AnimalId(animal)) => {
                let mut steps = Vec::new();
                for sac in &self.sacs {
                    let (young, sires) = (Kin::Cohort(CohortId(sac.cohort)), self.sires(sac));
                    if sac.dam == animal {
                        steps.push((young, 1, Some(Way::Dam), true));
                    }
                    if sires.contains(&animal) {
                        steps.push((young, 1, Some(Way::Sire), sires.len() == 1));
                    }
                }
                steps
            }
            Kin::Cohort(CohortId(cohort)) => {
                let parts = self.split_from.iter().filter(|(_, of)| **of == cohort).map(|(part, _)| Kin::Cohort(CohortId(*part)));
                let tagged = self.from_cohort.iter().filter(|(_, of)| **of == cohort).map(|(animal, _)| Kin::Animal(AnimalId(*animal)));
                parts.chain(tagged).map(|kin| (kin, 0, None, true)).collect()
            }
        }
    }

    /// Every path, walked one by one.
    fn walk(&self, from: Kin, generation: u32, way: Option<Way>, certain: bool, found: &mut BTreeMap<Kin, Vec<Path>>) {
        for (kin, on, step, sure) in self.steps(from) {
            let (generation, way, certain) = (generation + on, step.or(way), certain && sure);
            found.entry(kin).or_default().push((generation, way, certain));
            self.walk(kin, generation, way, certain, found);
        }
    }

    fn by_hand(&self, from: Kin) -> Vec<(Kin, u32, Option<Way>, bool)> {
        let mut found = BTreeMap::new();
        self.walk(from, 0, None, true, &mut found);
        let mut all: Vec<_> = found
            .into_iter()
            .map(|(kin, paths)| {
                let ways: BTreeSet<&str> = paths.iter().filter_map(|path| path.1.map(Way::code)).collect();
                let way = if ways.len() > 1 { Some(Way::Both) } else { ways.first().map(|code| code.parse().unwrap()) };
                (kin, paths.iter().map(|path| path.0).min().unwrap(), way, paths.iter().any(|path| path.2))
            })
            .collect();
        all.sort_by_key(|(kin, generation, ..)| (*generation, *kin));
        all
    }
}

#[tokio::test]
async fn every_descendant_is_found_as_a_walk_by_hand_finds_it() {
    let (mut uncertain, mut both, mut deepest) = (0, 0, 0);
    for seed in 0..6 {
        let house = TestHouse::start().await;
        library(&house.app).await;
        species(&house.app, "Brachypelma hamorii").await;
        let book = Book::random(&house, seed).await;
        let mut db = house.app.read().await.unwrap();
        let animals = (1..=book.animals).map(|id| Kin::Animal(AnimalId(id)));
        for kin in animals.chain((1..=book.cohorts).map(|id| Kin::Cohort(CohortId(id)))) {
            let found = match kin {
                Kin::Animal(id) => store::descendants_of_animal(&mut db, id).await.unwrap(),
                Kin::Cohort(id) => store::descendants_of_cohort(&mut db, id).await.unwrap(),
            };
            let found: Vec<_> = found.into_iter().map(|one| (one.kin, one.generation, one.way, one.certain)).collect();
            assert_eq!(found, book.by_hand(kin), "seed {seed}, {kin:?}");
            uncertain += found.iter().filter(|one| !one.3).count();
            both += found.iter().filter(|one| one.2 == Some(Way::Both)).count();
            deepest = deepest.max(found.iter().map(|one| one.1).max().unwrap_or_default());
        }
    }
    assert!(uncertain > 20 && both > 0 && deepest >= 3, "the books hold what is asked of them: {uncertain}, {both}, {deepest}");
}

#[tokio::test]
async fn a_pairing_that_was_only_planned_sires_nothing() {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let mut book = Book::default();
    let mut write = house.app.write(None).await.unwrap();
    for _ in 0..3 {
        book.animal(&mut write, None).await;
    }
    sqlx::query("DROP TRIGGER introduction_can_be").execute(write.db()).await.unwrap();
    for sql in [
        "INSERT INTO pairing (id, dam_id, sire_id, paired_on, at) VALUES (1, 1, 2, '2020-02-01', ''), (2, 1, 3, '2020-02-01', '')",
        "INSERT INTO introduction (pairing_id, day, insertion, outcome, band, clearance, persons, at)
         VALUES (1, '2020-02-02', 'seen', 'safe', 0, 0, 1, '')",
        "INSERT INTO sac (id, species_id, dam_id, laid_on, incubation, created_at)
         SELECT 1, species_id, 1, '2020-06-01', 'with-dam', '' FROM animal WHERE id = 1",
    ] {
        sqlx::query(sql).execute(write.db()).await.unwrap();
    }
    let sires = "SELECT sire_id, certain FROM possible_sire WHERE sac_id = 1";
    let found: Vec<(i64, bool)> = sqlx::query_as(sires).fetch_all(write.db()).await.unwrap();
    assert_eq!(found, [(2, true)]);
    // Struck out, he never was with her.
    sqlx::query(
        "INSERT INTO introduction (pairing_id, day, insertion, outcome, band, clearance, persons, at, corrects_id, void_reason)
         VALUES (1, '2020-02-02', 'seen', 'safe', 0, 0, 1, '', 1, 'another pair')",
    )
    .execute(write.db())
    .await
    .unwrap();
    let found: Vec<(i64, bool)> = sqlx::query_as(sires).fetch_all(write.db()).await.unwrap();
    assert!(found.is_empty());
}
