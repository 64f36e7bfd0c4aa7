//! A recall: recorded as it was found, written to each buyer, and each buyer's outcome kept.

use silkward::sales::model::recall::{Origin, Scope};
use silkward::sales::store::recall::related;

use super::stock::{self, CALM, house};
use crate::support::{Person, TestHouse, number};

const ALL: [(&str, &str); 5] = [
    ("mates", "yes"),
    ("descent", "yes"),
    ("reason", "nematodes"),
    ("words", "Worms were seen at the mouth.\nOn 10 April."),
    ("step", "record"),
];

async fn begin(lead: &mut Person, of: &str) -> String {
    let fields: Vec<(&str, &str)> = std::iter::once(("of", of)).chain(ALL).collect();
    lead.submit("/recall/new", &fields).await.sent_to()
}

async fn code(house: &TestHouse, cohort: silkward::house::ids::CohortId) -> String {
    sqlx::query_scalar("SELECT code FROM cohort WHERE id = ?").bind(cohort).fetch_one(&house.app.database.reader).await.unwrap()
}

/// A cohort of which two buyers have some, and an animal of no relation that a third has.
async fn sold() -> (TestHouse, Person, String) {
    let house = house().await;
    let mut lead = house.person("Ada", "owner").await;
    let one = stock::buyer(&mut lead, "Canary-One ليلى", "+49 30 555", "1 Canary-One Row").await;
    let two = stock::buyer(&mut lead, "Canary-Two 羽田", "two@canary.example", "2 Canary-Two Row").await;
    let three = stock::buyer(&mut lead, "Canary-Three", "", "").await;
    let cohort = stock::cohort(&house, CALM, 40).await;
    let animal = stock::animal(&house, CALM).await;
    stock::hand_to(&house, &mut lead, one, "", &[], &[(cohort, "5")]).await;
    stock::hand_to(&house, &mut lead, two, "", &[], &[(cohort, "6")]).await;
    stock::hand_to(&house, &mut lead, one, "", &[], &[(cohort, "2")]).await;
    stock::hand_to(&house, &mut lead, three, "", &[animal], &[]).await;
    let of = code(&house, cohort).await;
    (house, lead, of)
}

#[tokio::test]
async fn it_is_looked_at_first_and_then_recorded() {
    let (house, mut lead, of) = sold().await;
    lead.get(&format!("/recall/new?of={of}")).await.ok();
    assert_eq!(lead.get("/recall/new?cohort=1").await.ok().value("#of"), of);
    lead.get("/recall/new?cohort=99").await.is(404);
    let mut look: Vec<(&str, &str)> = std::iter::once(("of", of.as_str())).chain(ALL).collect();
    look[5] = ("step", "look");
    let seen = lead.submit("/recall/new", &look).await.ok();
    seen.says("This would find 3 sold (3 by a handover").says("27 in the house").says("Nothing is recorded yet").says("Worms were seen");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM recall").await, 0);
    let rows = number(&house, "SELECT COUNT(*) FROM audit").await;
    let address = begin(&mut lead, &of).await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, rows + 1);
    let page = lead.get(&address).await.ok().says("Canary-One").says("+49 30 555").says("2 Canary-Two Row").says("S-2026-0003");
    page.says("27 out of cohort").says("5 out of cohort").says("Worms were seen").lacks("Canary-Three");
    lead.get("/recall").await.ok().says("Recall 1").says("nematodes were found");
    lead.get("/buyers/1").await.ok().says("Recalls concern what they have");
    lead.get("/buyers/3").await.ok().lacks("Recalls concern");
}

#[tokio::test]
async fn each_buyer_gets_one_letter_with_nobody_else_in_it() {
    let (house, mut lead, of) = sold().await;
    let address = begin(&mut lead, &of).await;
    lead.get(&address).await.ok().says("Write 2 letters");
    lead.submit_at(&address, &format!("{address}/letters"), &[]).await.sent_to();
    lead.submit_at(&address, &format!("{address}/letters"), &[]).await.is(409);
    let page = lead.get(&address).await.ok().says("L-2026-0001").says("L-2026-0002").lacks("Write 2 letters");
    drop(page);
    let first = number(&house, "SELECT MIN(id) FROM paper WHERE kind = 'recall-letter'").await;
    let letter = lead.get(&format!("/papers/{first}?size=letter")).await.ok();
    let letter =
        letter.says("Canary-One ليلى").says("1 Canary-One Row").says("5 out of cohort").says("2 out of cohort").says("Worms were seen");
    let letter = letter.says("for a veterinarian").says("no veterinary, medical or legal advice").says("S-2026-0001").says("L-2026-0001");
    assert!(letter.count("bdi") >= 3);
    letter.lacks("Canary-Two").lacks("6 out of cohort").lacks("Ada");
    lead.get(&format!("/papers/{}?size=a4", first + 1)).await.ok().says("Canary-Two 羽田").says("6 out of cohort").lacks("Canary-One");
    let bodies: Vec<Vec<u8>> =
        sqlx::query_scalar("SELECT body FROM paper WHERE kind = 'recall-letter'").fetch_all(&house.app.database.reader).await.unwrap();
    for body in bodies {
        let body = String::from_utf8(body).unwrap();
        assert!(!body.contains("Canary"), "the buyer stands in the person's part alone");
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper WHERE kind = 'recall-letter' AND title LIKE '%anary%'").await, 0);
    lead.get("/buyers/1").await.ok().says("L-2026-0001").says("recall letter");
}

#[tokio::test]
async fn who_was_reached_is_noted_and_never_changed() {
    let (house, mut lead, of) = sold().await;
    let address = begin(&mut lead, &of).await;
    let to = format!("{address}/buyers/1");
    lead.submit_at(&address, &to, &[("what", "letter"), ("note", "typed")]).await.is(422).says("typed");
    let long = "x".repeat(601);
    let again = lead.submit_at(&address, &to, &[("what", "reached"), ("note", &long)]).await.is(422).says("at most 600 fit");
    assert_eq!(again.count("textarea#note-1"), 1);
    again.says(&long);
    lead.submit_at(&address, &to, &[("what", "not-reached"), ("note", "no answer")]).await.sent_to();
    lead.submit_at(&address, &to, &[("what", "reached"), ("note", "all well")]).await.sent_to();
    lead.get(&address).await.ok().says("not reached, by Ada: no answer").says("reached, by Ada: all well");
    lead.submit_at(&address, &format!("{address}/buyers/3"), &[("what", "reached")]).await.is(409);
    lead.submit_at(&address, "/recall/99/buyers/1", &[("what", "reached")]).await.is(404);
    let writer = &house.app.database.writer;
    for statement in [
        "UPDATE recall SET words = 'x'",
        "DELETE FROM recall",
        "UPDATE recall_found SET fate = 'dead'",
        "DELETE FROM recall_found",
        "INSERT INTO recall_found (recall_id, animal_id, quantity, relation, generation, certain, fate, place) VALUES (1, 1, 1, 'mate', 0, 1, 'here', '')",
        "UPDATE recall_contact SET what = 'reached'",
        "DELETE FROM recall_contact",
        "INSERT INTO recall_contact (recall_id, buyer_id, what, day, member_id, at) VALUES (1, 3, 'reached', '2026-04-15', 1, '2026-04-15')",
    ] {
        assert!(sqlx::query(statement).execute(writer).await.is_err(), "{statement}");
    }
}

#[tokio::test]
async fn bad_input_is_named_and_nothing_is_recorded() {
    let (house, mut lead, of) = sold().await;
    let again = lead
        .submit("/recall/new", &[("of", "NOBODY"), ("reason", "gossip"), ("words", "  "), ("hold", "yes"), ("last_day", "soon")])
        .await
        .is(422);
    assert_eq!(again.count(".mistakes li"), 4);
    assert_eq!(again.value("#of"), "NOBODY");
    let long = "x".repeat(2001);
    let fields = [("of", of.as_str()), ("reason", "other"), ("words", long.as_str()), ("step", "record")];
    lead.submit("/recall/new", &fields).await.is(422).says("at most 2000 fit");
    lead.submit("/recall/new", &[("of", of.as_str()), ("colour", "red")]).await.is(400);
    lead.get("/recall/99").await.is(404);
    lead.submit_at("/recall/new", "/recall/99/letters", &[]).await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM recall").await, 0);
    let mut seller = house.person("Cyprian", "counter").await;
    seller.get("/recall").await.ok().lacks("Begin a recall");
    seller.get("/recall/new").await.is(403);
}

#[tokio::test]
async fn what_is_still_in_the_house_goes_into_quarantine_and_names_no_buyer() {
    let (house, mut lead, of) = sold().await;
    let mut fields: Vec<(&str, &str)> = std::iter::once(("of", of.as_str())).chain(ALL).collect();
    fields.extend([("hold", "yes"), ("last_day", "2026-05-15")]);
    lead.submit("/recall/new", &fields).await.sent_to();
    let (kind, reason, until): (String, String, String) =
        sqlx::query_as("SELECT kind, reason, until_at FROM hold WHERE cohort_id = 1").fetch_one(&house.app.database.reader).await.unwrap();
    assert_eq!((kind.as_str(), reason.as_str()), ("quarantine", "recall 1: nematodes were found"));
    assert!(until.starts_with("2026-05-16T00:00:00"), "{until}");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold").await, 1);
    let page = lead.submit("/handovers/new", &[("buyer", "3")]).await.sent_to();
    stock::add_lot(&mut lead, &page, silkward::house::ids::CohortId(1), "1").await;
    lead.get(&page).await.ok().says("Stops it:").says("quarantine");
}

#[tokio::test]
async fn an_erased_buyer_is_a_number_and_gets_no_letter() {
    let (house, mut lead, of) = sold().await;
    lead.submit("/buyers/1/erase", &[("sure", "yes")]).await.sent_to();
    let address = begin(&mut lead, &of).await;
    lead.get(&address).await.ok().says("Erased buyer 1").says("only the number is known").says("S-2026-0001").says("Write 1 letter");
    lead.submit_at(&address, &format!("{address}/letters"), &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper WHERE kind = 'recall-letter'").await, 1);
    let letter = number(&house, "SELECT MAX(id) FROM paper WHERE kind = 'recall-letter'").await;
    lead.get(&format!("/papers/{letter}")).await.ok().says("Canary-Two");
}

/// The figures of a recall as it was made stay, whatever is sold afterwards.
#[tokio::test]
async fn the_list_is_frozen() {
    let (house, mut lead, of) = sold().await;
    let address = begin(&mut lead, &of).await;
    stock::hand_to(&house, &mut lead, 3, "", &[], &[(silkward::house::ids::CohortId(1), "9")]).await;
    lead.get(&address).await.ok().says("27 out of cohort").lacks("Canary-Three");
    let second = begin(&mut lead, &of).await;
    lead.get(&second).await.ok().says("18 out of cohort").says("Canary-Three");
}

#[tokio::test]
async fn what_stands_on_the_same_rack_is_reached_when_it_is_wanted() {
    let house = house().await;
    let (one, two, far) = (stock::animal(&house, CALM).await, stock::animal(&house, CALM).await, stock::animal(&house, CALM).await);
    let cohort = stock::cohort(&house, CALM, 12).await;
    let writer = &house.app.database.writer;
    for statement in [
        "INSERT INTO room (id, name, walk_order) VALUES (1, 'Quiet room', 1)",
        "INSERT INTO rack (id, room_id, name, walk_order) VALUES (1, 1, 'Elm', 1), (2, 1, 'Oak', 2)",
        "INSERT INTO shelf (id, rack_id, number) VALUES (1, 1, 1), (2, 1, 2), (3, 2, 1)",
        "UPDATE animal SET shelf_id = id",
        "UPDATE cohort SET shelf_id = 2",
    ] {
        sqlx::query(statement).execute(writer).await.unwrap();
    }
    let mut db = house.app.read().await.unwrap();
    let scope = Scope { rack: true, ..Scope::default() };
    let found = related(&mut db, Origin::Animal(one), scope).await.unwrap();
    let ids: Vec<_> = found.iter().map(|one| (one.animal, one.cohort)).collect();
    assert_eq!(ids, [(Some(one), None), (Some(two), None), (None, Some(cohort))].to_vec(), "but not {far}");
    assert!(found[2].place.contains("Elm"), "{found:?}");
}
