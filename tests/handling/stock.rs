//! A small house for tests of handling: the starter library, one shelf, and people who are cleared.

use chrono::NaiveDate;
use silkward::handling::model::NewClearance;
use silkward::handling::store;
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, CohortId, DutyId, MemberId};

use crate::support::{Person, TestHouse};

/// Mild venom and setae from the New World; and a species of band 3 from the Old World.
pub const CALM: &str = "Brachypelma hamorii";
pub const RISKY: &str = "Poecilotheria regalis";

/// The test house's day.
pub fn today() -> NaiveDate {
    "2026-04-15".parse().unwrap()
}

/// A house with the starter library and one shelf.
pub async fn house() -> TestHouse {
    let house = TestHouse::start().await;
    let mut write = house.app.write(None).await.unwrap();
    silkward::species::store::seed_library(&mut write).await.unwrap();
    sqlx::query("INSERT INTO room (id, name, walk_order) VALUES (1, 'Quiet room', 1)").execute(write.db()).await.unwrap();
    sqlx::query("INSERT INTO rack (id, room_id, name, walk_order) VALUES (1, 1, 'B', 1)").execute(write.db()).await.unwrap();
    sqlx::query("INSERT INTO shelf (id, rack_id, number) VALUES (1, 1, 1)").execute(write.db()).await.unwrap();
    write.commit(Change::new("test.stocked", "house", ""), "/").await.unwrap();
    house
}

/// An animal of 60 mm leg span, in a box so small that it must be rehoused once planned.
pub async fn animal(house: &TestHouse, species: &str) -> AnimalId {
    let id: AnimalId = sqlx::query_scalar(
        "INSERT INTO animal (tag, species_id, origin, source_code, started_on, shelf_id, enclosure_length_mm, created_at)
         SELECT 'T-' || (SELECT COUNT(*) + 1 FROM animal), id, 'bought', 'C', '2026-01-01', 1, 120, '2026-01-01T08:00:00+00:00'
         FROM species WHERE accepted_name = ? RETURNING id",
    )
    .bind(species)
    .fetch_one(&house.app.database.writer)
    .await
    .unwrap();
    sqlx::query("INSERT INTO measurement (animal_id, day, kind, mm, method, at) VALUES (?, '2026-01-01', 'dls', 60, 'measured', '2026-01-01T08:00:00+00:00')")
        .bind(id)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    id
}

/// A bought cohort in vials.
pub async fn cohort(house: &TestHouse, species: &str) -> CohortId {
    sqlx::query_scalar(
        "INSERT INTO cohort (code, species_id, origin, source_code, started_on, housing, shelf_id, created_at)
         SELECT 'C-1', id, 'bought', 'C', '2026-01-01', 'vials', 1, '2026-01-01T08:00:00+00:00' FROM species WHERE accepted_name = ? RETURNING id",
    )
    .bind(species)
    .fetch_one(&house.app.database.writer)
    .await
    .unwrap()
}

/// Plans the whole house.
pub async fn plan(house: &TestHouse) {
    let mut write = house.app.write(None).await.unwrap();
    silkward::rounds::store::plan_house(&mut write).await.unwrap();
    write.commit(Change::new("test.planned", "house", ""), "/").await.unwrap();
}

/// The open duty of a kind for an animal.
pub async fn duty(house: &TestHouse, animal: AnimalId, kind: &str) -> DutyId {
    sqlx::query_scalar("SELECT id FROM duty WHERE animal_id = ? AND kind = ? AND state = 'open'")
        .bind(animal)
        .bind(kind)
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap()
}

/// What a duty asks: band, clearance, persons.
pub async fn asked(house: &TestHouse, duty: DutyId) -> (i64, i64, i64) {
    sqlx::query_as("SELECT band, clearance, persons FROM duty WHERE id = ?").bind(duty).fetch_one(&house.app.database.writer).await.unwrap()
}

/// Enters three supervised rehouses that somebody passed, whoever supervised them, and their reading of the text on safe work.
pub async fn practised(house: &TestHouse, member: MemberId, band: i64) {
    let writer = &house.app.database.writer;
    sqlx::query("DROP TRIGGER IF EXISTS assessment_by_assessor").execute(writer).await.unwrap();
    for day in ["2026-04-01", "2026-04-02", "2026-04-03"] {
        sqlx::query(
            "INSERT INTO assessment (member_id, assessor_id, band, outcome, day, recorded_by, at)
             SELECT ?1, MIN(id), ?2, 'passed', ?3, MIN(id), '2026-04-03T12:00:00+00:00' FROM member WHERE id <> ?1",
        )
        .bind(member)
        .bind(band)
        .bind(day)
        .execute(writer)
        .await
        .unwrap();
    }
    has_read(house, member).await;
}

/// Enters that somebody has read the text on safe work.
pub async fn has_read(house: &TestHouse, member: MemberId) {
    sqlx::query("INSERT INTO safe_work_read (member_id, version, at) SELECT ?, MAX(version), '2026-04-03T12:00:00+00:00' FROM safe_work_text WHERE true ON CONFLICT DO NOTHING")
        .bind(member)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
}

/// A keeper who has practised enough for every level.
pub async fn ready(house: &TestHouse, name: &str) -> Person {
    let person = house.person(name, "keeper").await;
    practised(house, person.id(), 3).await;
    person
}

/// A clearance as it is entered by a member, after the practice that it takes.
pub async fn granted(house: &TestHouse, by: MemberId, new: &NewClearance) {
    if new.outside_assessor.is_empty() {
        practised(house, new.member, new.level).await;
    }
    let mut write = house.app.write(Some(by)).await.unwrap();
    store::grant(&mut write, new).await.unwrap();
    write.commit(Change::new("test.granted", "clearance", ""), "/").await.unwrap();
}

/// A clearance from today for a year.
pub fn clearance(member: MemberId, level: i64, outside: &str) -> NewClearance {
    NewClearance {
        member,
        level,
        evidence: "rehoused three under supervision".to_owned(),
        valid_from: today(),
        valid_until: "2027-04-15".parse().unwrap(),
        outside_assessor: outside.to_owned(),
    }
}

/// An owner whom somebody outside has assessed for level 3.
pub async fn assessor(house: &TestHouse) -> Person {
    let owner = house.person("Olga", "owner").await;
    granted(house, owner.id(), &clearance(owner.id(), 3, "An assessor from another house")).await;
    owner
}

/// What somebody is cleared for on the house's day.
pub async fn level(house: &TestHouse, member: MemberId) -> i64 {
    store::level_on(&mut house.app.read().await.unwrap(), member, house.app.today()).await.unwrap()
}

/// What the database says when a statement is refused.
pub async fn refused(house: &TestHouse, statement: &'static str) -> String {
    sqlx::query(statement).execute(&house.app.database.writer).await.expect_err("the database took it").to_string()
}
