//! A house with stock to sell, and the steps of a handover as a counter makes them.

use chrono::NaiveDate;
use silkward::animals::model::{NewAnimal, NewMeal, NewOrigin, NewSpan};
use silkward::cohorts::model::{Housing, NewCohort, NewCohortMeal};
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, CohortId, SpeciesId};
use silkward::reckoning::provenance::check_source;
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::{MealOutcome, SpanKind, SpanMethod};

use crate::support::{Person, TestHouse};

/// Unlisted, New World, mild, with setae.
pub const CALM: &str = "Grammostola pulchra";
/// On trade lists.
pub const LISTED: &str = "Brachypelma hamorii";
/// Old World, of medically significant venom.
pub const RISKY: &str = "Heteroscodra maculata";

/// Words that must never be seen by those who do not sell.
pub const BUYER: [&str; 3] = ["Quillon Canaryfeather", "canary-0199-555", "9 Canary Wharfside"];

pub fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// A house with the starter library.
pub async fn house() -> TestHouse {
    let house = TestHouse::start().await;
    let mut write = house.app.write(None).await.unwrap();
    silkward::species::store::seed_library(&mut write).await.unwrap();
    write.commit(Change::new("test.set-up", "house", ""), "/").await.unwrap();
    house
}

pub async fn species(house: &TestHouse, name: &str) -> SpeciesId {
    sqlx::query_scalar("SELECT id FROM species WHERE accepted_name = ?").bind(name).fetch_one(&house.app.database.writer).await.unwrap()
}

/// A bought animal of 60 mm that ate on 5 April 2026.
pub async fn animal(house: &TestHouse, name: &str) -> AnimalId {
    let origin = NewOrigin::Bought { supplier: "A breeder".to_owned(), papers: String::new() };
    let mut new = NewAnimal::new(species(house, name).await, origin, check_source("C").unwrap(), day("2026-01-10"));
    new.span = Some(NewSpan { kind: SpanKind::LegSpan, mm: 60, method: SpanMethod::Measured });
    new.instar = Some(6);
    let mut write = house.app.write(None).await.unwrap();
    let id = silkward::animals::store::insert(&mut write, &new).await.unwrap();
    let meal = NewMeal { day: day("2026-04-05"), prey: "one cricket".to_owned(), outcome: MealOutcome::Took, signoff: None };
    silkward::animals::store::record_meal(&mut write, id, &meal).await.unwrap();
    write.commit(Change::new("test.animal", "animal", ""), "/").await.unwrap();
    id
}

/// A bought cohort in vials with so many at the second instar, fed on 8 April 2026.
pub async fn cohort(house: &TestHouse, name: &str, alive: u32) -> CohortId {
    let new = NewCohort {
        code: None,
        species_id: species(house, name).await,
        origin: silkward::cohorts::model::NewOrigin::Bought { supplier: "A breeder".to_owned(), papers: String::new() },
        source: check_source("C").unwrap(),
        locality: String::new(),
        started_on: day("2026-03-01"),
        housing: Housing::Vials,
        shelf: None,
        position: None,
        span_mm: Some(12),
        note: String::new(),
        counts: vec![(Stage::Instar(2), alive)],
    };
    let mut write = house.app.write(None).await.unwrap();
    let id = silkward::cohorts::store::insert(&mut write, &new).await.unwrap();
    let meal = NewCohortMeal { day: day("2026-04-08"), prey: "fruit flies".to_owned(), took: alive, refused: 0, left_in: 0, signoff: None };
    silkward::cohorts::store::record_meal(&mut write, id, &meal).await.unwrap();
    write.commit(Change::new("test.cohort", "cohort", ""), "/").await.unwrap();
    id
}

pub async fn tag(house: &TestHouse, id: AnimalId) -> String {
    sqlx::query_scalar("SELECT tag FROM animal WHERE id = ?").bind(id).fetch_one(&house.app.database.writer).await.unwrap()
}

/// Begins a handover for the canary buyer; gives its address.
pub async fn begin(seller: &mut Person) -> String {
    let [name, contact, address] = BUYER;
    seller.submit("/handovers/new", &[("name", name), ("contact", contact), ("address", address)]).await.sent_to()
}

pub async fn add_animal(house: &TestHouse, seller: &mut Person, address: &str, animal: AnimalId) {
    let tag = tag(house, animal).await;
    seller.submit_at(address, &format!("{address}/animals"), &[("tag", &tag)]).await.sent_to();
}

pub async fn add_lot(seller: &mut Person, address: &str, cohort: CohortId, quantity: &str) {
    let lot = format!("{cohort}-i2");
    seller.submit_at(address, &format!("{address}/lots"), &[("lot", &lot), ("quantity", quantity)]).await.sent_to();
}

/// Presses the button as the page shows it, with the box on cautions and age ticked where there is one.
pub async fn hand_over(seller: &mut Person, address: &str, reason: &str) -> crate::support::Page {
    let page = seller.get(address).await.ok();
    let (version, shown) = (page.value("input[name=version]"), if page.count("#age_seen") > 0 { "yes" } else { "" });
    let fields = [("version", version.as_str()), ("override_reason", reason), ("age_seen", shown)];
    seller.submit_at(address, &format!("{address}/hand-over"), &fields).await
}

/// A handover of one calm animal, done; gives its address.
pub async fn done(house: &TestHouse, seller: &mut Person) -> String {
    let address = begin(seller).await;
    let animal = animal(house, CALM).await;
    add_animal(house, seller, &address, animal).await;
    hand_over(seller, &address, "").await.sent_to()
}

/// Clears a member up to a level until the end of 2027, as an outside assessor would have.
pub async fn clear(house: &TestHouse, member: silkward::house::ids::MemberId, level: i64) {
    sqlx::query("DROP TRIGGER IF EXISTS clearance_by_assessor").execute(&house.app.database.writer).await.unwrap();
    sqlx::query(
        "INSERT INTO clearance (member_id, level, granted_by, outside_assessor, evidence, valid_from, valid_until, granted_at)
         VALUES (?1, ?2, ?1, 'A. Nother', 'seen at work', '2026-01-01', '2027-12-31', '2026-01-01T08:00:00+00:00')",
    )
    .bind(member)
    .bind(level)
    .execute(&house.app.database.writer)
    .await
    .unwrap();
}

/// Enters a buyer as a counter does; gives their number.
pub async fn buyer(seller: &mut Person, name: &str, contact: &str, address: &str) -> i64 {
    let to = seller.submit("/buyers/new", &[("name", name), ("contact", contact), ("address", address)]).await.sent_to();
    to.rsplit('/').next().unwrap().parse().unwrap()
}

/// Hands animals and lots over to a buyer of the book, whatever the readiness check says; gives the handover's address.
pub async fn hand_to(
    house: &TestHouse,
    lead: &mut Person,
    buyer: i64,
    note: &str,
    animals: &[AnimalId],
    lots: &[(CohortId, &str)],
) -> String {
    let fields = [("buyer", buyer.to_string()), ("note", note.to_owned())];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let address = lead.submit("/handovers/new", &fields).await.sent_to();
    for animal in animals {
        add_animal(house, lead, &address, *animal).await;
    }
    for (cohort, quantity) in lots {
        add_lot(lead, &address, *cohort, quantity).await;
    }
    hand_over(lead, &address, "").await.sent_to()
}
