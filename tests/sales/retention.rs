//! How long buyers are kept: erased by the house's rule, once, with the days counted, and not while something stands against it.

use silkward::house::ids::BuyerId;
use silkward::records::verify;

use super::stock::{self, CALM, house};
use crate::support::{Person, TestHouse, number};

async fn keep(house: &TestHouse) -> Vec<i64> {
    silkward::sales::keep(&house.app).await.unwrap().by_rule.into_iter().map(|BuyerId(id)| id).collect()
}

async fn set_rule(owner: &mut Person, months: &str) {
    let version = owner.get("/buyers/rule").await.ok().value("input[name=version]");
    owner.submit("/buyers/rule", &[("months", months), ("version", &version)]).await.sent_to();
}

#[tokio::test]
async fn past_the_rule_buyers_are_erased_once_and_counted() {
    let house = house().await;
    let mut owner = house.person("Ada", "owner").await;
    assert_eq!(keep(&house).await, Vec::<i64>::new());
    for name in ["Long Ago", "Bought Later", "Also Long Ago"] {
        stock::buyer(&mut owner, name, "", "").await;
    }
    let animal = stock::animal(&house, CALM).await;
    house.set_clock("2027-04-15T12:00:00Z");
    let mut owner = house.sign_in(owner.id()).await;
    stock::hand_to(&house, &mut owner, 2, "", &[animal], &[]).await;
    // 36 months after 15 April 2026 is 15 April 2029.
    house.set_clock("2029-03-20T12:00:00Z");
    let mut owner = house.sign_in(owner.id()).await;
    assert_eq!(keep(&house).await, Vec::<i64>::new());
    owner.get("/buyers/rule").await.ok().says("Long Ago").says("15 Apr 2029").says("Also Long Ago").lacks("Bought Later");
    house.set_clock("2029-04-14T21:59:59Z");
    assert_eq!(keep(&house).await, Vec::<i64>::new());
    house.set_clock("2029-04-15T00:00:00Z");
    let rows = number(&house, "SELECT COUNT(*) FROM audit").await;
    assert_eq!(keep(&house).await, [1, 3]);
    assert_eq!(keep(&house).await, Vec::<i64>::new());
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, rows + 1);
    assert_eq!(
        number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'buyers.erased' AND after = '2 erased by the house''s rule: 1, 3'").await,
        1
    );
    let file = std::fs::read(house.app.config.database_file()).unwrap();
    assert!(!file.windows(8).any(|window| window == b"Long Ago"));
    assert!(file.windows(12).any(|window| window == b"Bought Later"));
    house.set_clock("2030-04-15T00:00:00Z");
    assert_eq!(keep(&house).await, [2]);
    assert_eq!(verify::run(&house.app).await.unwrap().findings, Vec::<String>::new());
    // What the house may have to show stays, without the person.
    let mut owner = house.sign_in(owner.id()).await;
    owner.get("/papers/1").await.ok().says("S-2026-0001".replace("2026", "2027").as_str());
    owner.get("/buyers/2").await.ok().says("Erased buyer 2").says("S-2027-0001");
}

#[tokio::test]
async fn a_new_rule_gives_the_owner_thirty_days_and_zero_means_never() {
    let house = house().await;
    let mut owner = house.person("Ada", "owner").await;
    stock::buyer(&mut owner, "Somebody", "", "").await;
    keep(&house).await;
    set_rule(&mut owner, "0").await;
    house.set_clock("2126-01-01T12:00:00Z");
    assert_eq!(keep(&house).await, Vec::<i64>::new());
    let mut owner = house.sign_in(owner.id()).await;
    owner.get("/buyers/1").await.ok().says("until somebody erases them");
    set_rule(&mut owner, "1").await;
    assert_eq!(keep(&house).await, Vec::<i64>::new(), "on its first day a rule erases nobody");
    owner.get("/buyers/rule").await.ok().says("Somebody").says("31 Jan 2126");
    house.set_clock("2126-01-30T12:00:00Z");
    assert_eq!(keep(&house).await, Vec::<i64>::new());
    house.set_clock("2126-01-31T12:00:00Z");
    assert_eq!(keep(&house).await, [1]);
}

#[tokio::test]
async fn a_hold_and_unfinished_work_put_it_off() {
    let house = house().await;
    let mut owner = house.person("Ada", "owner").await;
    for name in ["Held", "With A Draft", "Free"] {
        stock::buyer(&mut owner, name, "", "").await;
    }
    keep(&house).await;
    set_rule(&mut owner, "1").await;
    let hold = [("keep", "yes"), ("until", "2026-08-01"), ("reason", "a claim"), ("version", "1")];
    owner.submit("/buyers/1/keep", &hold).await.sent_to();
    house.set_clock("2026-04-30T12:00:00Z");
    let mut owner = house.sign_in(owner.id()).await;
    let draft = owner.submit("/handovers/new", &[("buyer", "2")]).await.sent_to();
    house.set_clock("2026-05-20T12:00:00Z");
    let mut owner = house.sign_in(owner.id()).await;
    owner.get("/buyers/rule").await.ok().says("kept until 1 Aug 2026").says("is not finished");
    assert_eq!(keep(&house).await, [3]);
    house.set_clock("2026-08-01T12:00:00Z");
    assert_eq!(keep(&house).await, Vec::<i64>::new());
    house.set_clock("2026-08-02T12:00:00Z");
    assert_eq!(keep(&house).await, [1]);
    let mut owner = house.sign_in(owner.id()).await;
    owner.submit_at(&draft, &format!("{draft}/cancel"), &[]).await.sent_to();
    assert_eq!(keep(&house).await, [2]);
}

#[tokio::test]
async fn bad_input_changes_neither_rule_nor_hold() {
    let house = house().await;
    let mut owner = house.person("Ada", "owner").await;
    stock::buyer(&mut owner, "Somebody", "", "").await;
    for months in ["", "-1", "601", "many", "1.5", "99999999999"] {
        let again = owner.submit("/buyers/rule", &[("months", months), ("version", "1")]).await.is(422);
        assert_eq!(again.value("#months"), months);
    }
    owner.submit("/buyers/rule", &[("months", "12"), ("version", "7")]).await.is(409);
    let hold = [("keep", "yes"), ("until", "2026-04-14"), ("reason", ""), ("version", "1")];
    let again = owner.submit("/buyers/1/keep", &hold).await.is(422);
    assert_eq!(again.count(".mistakes li"), 2);
    assert_eq!(again.value("#until"), "2026-04-14");
    let stale = [("keep", "yes"), ("until", "2026-05-14"), ("reason", "why"), ("version", "9")];
    owner.submit("/buyers/1/keep", &stale).await.is(409);
    assert_eq!(number(&house, "SELECT buyer_months FROM site").await, 36);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM buyer WHERE kept_until IS NOT NULL").await, 0);
}
