//! A rehouse of the highest band takes two people and a list of tools.

use silkward::house::audit::Change;
use silkward::house::ids::{DutyId, MemberId};

use super::stock::{RISKY, animal, house, open_duty, plan};
use crate::support::{Person, TestHouse, number};

const TOOLS: [&str; 9] = [
    "soft brush",
    "catch cup with lid",
    "new enclosure ready and open",
    "long forceps, 25 to 30 cm",
    "work inside a larger tub; no bare hand in either box",
    "someone within call",
    "second person in the room and briefed",
    "door shut and its gap sealed",
    "telephone at hand",
];

async fn pin(house: &TestHouse, member: MemberId, pin: &str) {
    let hash = silkward::staff::passphrase::hash(&house.app, pin).await.unwrap();
    let mut write = house.app.write(Some(member)).await.unwrap();
    silkward::staff::store::set_pin_hash(&mut write, member, &hash).await.unwrap();
    write.commit(Change::new("member.pin", "member", ""), "/").await.unwrap();
}

/// A band 3 animal that has outgrown its box, a keeper cleared for it, and a second person with the PIN 2468.
async fn risky_rehouse() -> (TestHouse, Person, MemberId, DutyId) {
    let house = house().await;
    let animal = animal(&house, RISKY, 1).await;
    sqlx::query("UPDATE animal SET enclosure_length_mm = 100").execute(&house.app.database.writer).await.unwrap();
    plan(&house).await;
    let bo = house.keeper("Bo", 3).await;
    let cy = house.keeper("Cyprian", 0).await.id();
    pin(&house, cy, "246813").await;
    let duty = open_duty(&house, animal, "rehouse").await.expect("60 mm in 100 mm");
    (house, bo, cy, duty)
}

fn form<'a>(second: &'a str, pin: &'a str, tools: &[&'a str]) -> Vec<(&'a str, &'a str)> {
    let mut form = vec![("length_mm", "250"), ("width_mm", "180"), ("shelf", "2"), ("position", "4"), ("second", second), ("pin", pin)];
    form.extend(tools.iter().map(|tool| ("ticked", *tool)));
    form
}

#[tokio::test]
async fn two_people_and_every_tool_make_a_rehouse() {
    let (house, mut bo, cy, duty) = risky_rehouse().await;
    let page = format!("/round/duties/{duty}");
    let shown = bo.get(&page).await.ok().says("telephone at hand");
    assert_eq!(shown.count("input[name=ticked]"), TOOLS.len());
    let second = cy.to_string();
    bo.submit_at(&page, &format!("{page}/hands-in"), &form(&second, "246813", &TOOLS)).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE second_id = 2 AND checklist LIKE '%telephone at hand%'").await, 1);
    assert_eq!(number(&house, "SELECT enclosure_length_mm FROM animal").await, 250);
    assert_eq!(number(&house, "SELECT shelf_id FROM animal").await, 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE kind = 'rehouse' AND state = 'open'").await, 0);
}

#[tokio::test]
async fn the_same_person_twice_a_wrong_pin_and_a_short_list_are_refused_and_what_was_typed_stays() {
    let (house, mut bo, cy, duty) = risky_rehouse().await;
    let me = bo.id();
    pin(&house, me, "135799").await;
    let (page, second, own) = (format!("/round/duties/{duty}"), cy.to_string(), me.to_string());
    let hands_in = format!("{page}/hands-in");
    let again = bo.submit_at(&page, &hands_in, &form(&own, "135799", &TOOLS)).await.is(422).says("must be somebody else");
    assert_eq!(again.value("#length_mm"), "250");
    let again = bo.submit_at(&page, &hands_in, &form(&second, "999999", &TOOLS)).await.is(422).says("not the second person's PIN");
    assert_eq!((again.value("#position").as_str(), again.value("#pin").as_str()), ("4", ""));
    assert_eq!(again.count("input[name=ticked][checked]"), TOOLS.len());
    let again = bo.submit_at(&page, &hands_in, &form(&second, "246813", &TOOLS[1..])).await.is(422).says("Still missing: soft brush.");
    assert_eq!(again.count("input[name=ticked][checked]"), TOOLS.len() - 1);
    bo.submit_at(&page, &hands_in, &form("", "", &TOOLS)).await.is(422).says("This takes two people.");
    bo.submit_at("/round", &page, &[("outcome", "done")]).await.is(422).says("This takes two people.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    assert_eq!(number(&house, "SELECT enclosure_length_mm FROM animal").await, 100);
}

#[tokio::test]
async fn the_cleared_one_signs_not_the_other() {
    let (house, bo, cy, duty) = risky_rehouse().await;
    let mut other = house.sign_in(cy).await;
    pin(&house, bo.id(), "135799").await;
    let page = format!("/round/duties/{duty}");
    let second = bo.id().to_string();
    other.submit_at("/round", &format!("{page}/hands-in"), &form(&second, "135799", &TOOLS)).await.is(403).says("needs clearance 3");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
}
