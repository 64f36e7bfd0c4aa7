//! A small house for tests of rounds: one rack, and whatever stock a test asks for.

use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, CohortId, DutyId, MemberId};
use silkward::rounds::model::Planned;
use silkward::rounds::store;

use crate::support::{Page, Person, TestHouse};

/// A New World species with mild venom and setae, and an Old World one of band 3.
pub const CALM: &str = "Brachypelma hamorii";
pub const RISKY: &str = "Poecilotheria regalis";

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

/// The usual list of prey, in its order: of an animal of 60 mm the large cricket (6), of a cohort that nobody measured the
/// fruit fly (2), pre-killed.
pub async fn prey_list(house: &TestHouse) {
    let mut write = house.app.write(None).await.unwrap();
    assert_eq!(store::prey::add_usual_kinds(&mut write).await.unwrap(), 11);
    write.commit(Change::new("prey-kind.added", "prey", ""), "/").await.unwrap();
}

/// The large cricket and the fruit fly of the usual list.
pub const LARGE_CRICKET: i64 = 6;
pub const FRUIT_FLY: i64 = 2;

/// What is on hand of a kind by the book.
pub async fn on_hand(house: &TestHouse, kind: i64) -> i64 {
    sqlx::query_scalar("SELECT COALESCE((SELECT quantity FROM prey_balance WHERE kind_id = ?), 0)")
        .bind(kind)
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap()
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

/// The open duty of a kind for a cohort.
pub async fn open_cohort_duty(house: &TestHouse, cohort: CohortId, kind: &str) -> Option<DutyId> {
    sqlx::query_scalar("SELECT id FROM duty WHERE cohort_id = ? AND kind = ? AND state = 'open'")
        .bind(cohort)
        .bind(kind)
        .fetch_optional(&house.app.database.writer)
        .await
        .unwrap()
}

/// Gives a person every open duty that they may have.
pub async fn give_all(house: &TestHouse, member: MemberId) {
    let mut write = house.app.write(Some(member)).await.unwrap();
    store::assign_rack(&mut write, Some(silkward::house::ids::RackId(1)), member, true).await.unwrap();
    write.commit(Change::new("rack.assigned", "rack 1", ""), "/").await.unwrap();
}

/// Signs a duty off from the round.
pub async fn sign(person: &mut Person, duty: DutyId, fields: &[(&str, &str)]) -> Page {
    person.submit_at("/round", &format!("/round/duties/{duty}"), fields).await
}

/// The values of hidden fields.
pub fn hidden(html: &str, selector: &str) -> Vec<String> {
    let page = scraper::Html::parse_document(html);
    let selector = scraper::Selector::parse(selector).unwrap();
    page.select(&selector).map(|field| field.value().attr("value").unwrap().to_owned()).collect()
}

impl TestHouse {
    /// A keeper with a clearance, or with none at level 0.
    pub async fn keeper(&self, name: &str, level: i64) -> Person {
        let person = self.person(name, "keeper").await;
        if level > 0 {
            clear(self, person.id(), level, "2027-12-31").await;
        }
        person
    }
}
