//! A small house for tests of rounds: one rack, and whatever stock a test asks for.

use chrono::NaiveDate;
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, CohortId, DutyId, MemberId};
use silkward::rounds::model::Planned;
use silkward::rounds::store;

use crate::support::TestHouse;

/// A New World species with mild venom and setae, and an Old World one of band 3.
pub const CALM: &str = "Brachypelma hamorii";
pub const RISKY: &str = "Poecilotheria regalis";

pub fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// A house with the starter library and one rack of three shelves.
pub async fn house() -> TestHouse {
    let house = TestHouse::start().await;
    let mut write = house.app.write(None).await.unwrap();
    silkward::species::store::seed_library(&mut write).await.unwrap();
    sqlx::query("INSERT INTO room (id, name, walk_order) VALUES (1, 'Quiet room', 1)").execute(write.db()).await.unwrap();
    sqlx::query("INSERT INTO rack (id, room_id, name, walk_order) VALUES (1, 1, 'B', 1)").execute(write.db()).await.unwrap();
    sqlx::query("INSERT INTO shelf (id, rack_id, number) VALUES (1, 1, 1), (2, 1, 2), (3, 1, 3)").execute(write.db()).await.unwrap();
    write.commit(Change::new("test.set-up", "house", ""), "/").await.unwrap();
    house
}

/// A bought animal on a shelf, in the house since 1 April 2026, with a leg span of 60 mm in a box of 300 mm.
pub async fn animal(house: &TestHouse, species: &str, shelf: i64) -> AnimalId {
    let writer = &house.app.database.writer;
    let id: AnimalId = sqlx::query_scalar(
        "INSERT INTO animal (tag, species_id, origin, source_code, started_on, shelf_id, position, enclosure_length_mm, created_at)
         SELECT 'T-' || (SELECT COUNT(*) + 1 FROM animal), id, 'bought', 'C', '2026-04-01', ?, (SELECT COUNT(*) + 1 FROM animal), 300, '2026-04-01T08:00:00+00:00'
         FROM species WHERE accepted_name = ? RETURNING id",
    )
    .bind(shelf)
    .bind(species)
    .fetch_one(writer)
    .await
    .unwrap();
    sqlx::query("INSERT INTO measurement (animal_id, day, kind, mm, method, at) VALUES (?, '2026-04-01', 'dls', 60, 'measured', '2026-04-01T08:00:00+00:00')")
        .bind(id)
        .execute(writer)
        .await
        .unwrap();
    id
}

/// A bought-in cohort in vials with so many at the second instar.
pub async fn cohort(house: &TestHouse, species: &str, alive: i64) -> CohortId {
    let writer = &house.app.database.writer;
    let id: CohortId = sqlx::query_scalar(
        "INSERT INTO cohort (code, species_id, origin, source_code, started_on, housing, shelf_id, created_at)
         SELECT 'C-' || (SELECT COUNT(*) + 1 FROM cohort), id, 'bought', 'C', '2026-04-01', 'vials', 2, '2026-04-01T08:00:00+00:00'
         FROM species WHERE accepted_name = ? RETURNING id",
    )
    .bind(species)
    .fetch_one(writer)
    .await
    .unwrap();
    sqlx::query("INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at) VALUES (?, '2026-04-01', 'received', 'in', 'i2', ?, '2026-04-01T08:00:00+00:00')")
        .bind(id)
        .bind(alive)
        .execute(writer)
        .await
        .unwrap();
    id
}

/// Gives a clearance as an outside assessor would, whatever stands.
pub async fn clear(house: &TestHouse, member: MemberId, level: i64, until: &str) {
    sqlx::query("DROP TRIGGER IF EXISTS clearance_by_assessor").execute(&house.app.database.writer).await.unwrap();
    sqlx::query(
        "INSERT INTO clearance (member_id, level, granted_by, outside_assessor, evidence, valid_from, valid_until, granted_at)
         VALUES (?1, ?2, ?1, 'A. Nother', 'seen at work', '2026-01-01', ?3, '2026-01-01T08:00:00+00:00')",
    )
    .bind(member)
    .bind(level)
    .bind(until)
    .execute(&house.app.database.writer)
    .await
    .unwrap();
}

/// Plans the house and keeps it.
pub async fn plan(house: &TestHouse) -> Planned {
    let mut write = house.app.write(None).await.unwrap();
    let planned = store::plan_house(&mut write).await.unwrap();
    write.commit(Change::new("day.planned", "day", planned.to_string()), "/").await.unwrap();
    planned
}

/// The open duty of a kind for an animal.
pub async fn open_duty(house: &TestHouse, animal: AnimalId, kind: &str) -> Option<DutyId> {
    sqlx::query_scalar("SELECT id FROM duty WHERE animal_id = ? AND kind = ? AND state = 'open'")
        .bind(animal)
        .bind(kind)
        .fetch_optional(&house.app.database.writer)
        .await
        .unwrap()
}
