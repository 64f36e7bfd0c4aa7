//! The stock's page agrees with the check that a handover makes, and is quick with a full house.

use std::time::{Duration, Instant};

use silkward::animals::model::NewMoult;
use silkward::house::audit::Change;
use silkward::reckoning::stage::Stage;
use silkward::sales::model::{Item, StockItem};
use silkward::sales::store;

use super::stock::{self, CALM, LISTED, RISKY, day, house};
use super::trade::{add_packs, add_tags, order};
use crate::support::{TestHouse, number};

async fn stock_of(house: &TestHouse) -> Vec<StockItem> {
    let mut db = house.app.read().await.unwrap();
    store::stock::stock(&mut db, house.app.now(), house.app.site().zone).await.unwrap()
}

async fn moulted(house: &TestHouse, animal: silkward::house::ids::AnimalId, on: &str) {
    let mut write = house.app.write(None).await.unwrap();
    let moult = NewMoult { day: day(on), skin_kept: true, note: String::new(), span: None, signoff: None };
    silkward::animals::store::record_moult(&mut write, animal, &moult).await.unwrap();
    write.commit(Change::new("test.moult", "animal", ""), "/").await.unwrap();
}

#[tokio::test]
async fn what_may_leave_is_told_with_reasons_and_the_day() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let ready = stock::animal(&house, CALM).await;
    let fresh = stock::animal(&house, CALM).await;
    let held = stock::animal(&house, RISKY).await;
    stock::animal(&house, LISTED).await;
    stock::cohort(&house, CALM, 30).await;
    moulted(&house, fresh, "2026-04-12").await;
    sqlx::query("INSERT INTO hold (animal_id, kind, blocks, from_at, until_at, reason) VALUES (?, 'quarantine', 'hands-in', '2026-04-01T08:00:00+00:00', '2026-04-20T08:00:00+00:00', 'new')")
        .bind(held).execute(&house.app.database.writer).await.unwrap();
    let page = seller.get("/stock").await.ok();
    page.says("1 of 4 tagged animals and 30 of 30 in cohorts may leave today; 0 are reserved")
        .says("moulted on 12 April 2026; may leave from 22 April 2026")
        .says("listed species without papers of its origin")
        .says("May not leave today; from 21 Apr 2026");
    let only = seller.get("/stock?only=yes").await.ok();
    let tag = stock::tag(&house, ready).await;
    only.says(&tag).says("30 may leave today").lacks("Heteroscodra maculata Band");
    let narrowed = seller.get("/stock?stage=i2").await.ok().says("30 may leave today");
    narrowed.lacks(&tag);
    seller.get("/stock?stage=juvenile&sex=unknown").await.ok().says(&tag).lacks("30 may leave today");
    seller.get("/stock?species=abc&stage=moon&sex=x&page=-1&order=q").await.ok().says("Nothing fits this");
}

/// The one rule: for every animal and lot, ready on the page if and only if a handover of it is not blocked.
#[tokio::test]
async fn the_page_and_the_handover_agree_on_every_animal_and_lot() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    for name in [CALM, LISTED, RISKY] {
        for on in ["2026-04-01", "2026-04-04", "2026-04-12"] {
            let animal = stock::animal(&house, name).await;
            moulted(&house, animal, on).await;
        }
        stock::cohort(&house, name, 12).await;
    }
    let cohort = stock::cohort(&house, CALM, 20).await;
    let mut write = house.app.write(None).await.unwrap();
    let line = silkward::cohorts::model::NewLine::moulted(day("2026-04-13"), Stage::Instar(2), Stage::Instar(3), 8);
    silkward::cohorts::store::post(&mut write, cohort, &line).await.unwrap();
    silkward::cohorts::store::hold_back(&mut write, cohort, day("2026-04-15"), 3, "breeding").await.unwrap();
    write.commit(Change::new("test.cohort", "cohort", ""), "/").await.unwrap();
    let reserved = order(&mut seller).await;
    add_packs(&mut seller, &reserved, cohort, "5", "1").await.sent_to();
    let mut compared = 0;
    for item in stock_of(&house).await {
        let counts: Vec<u32> = if item.animal.is_some() { vec![1] } else { (1..=item.here + 1).collect() };
        for count in counts {
            let line = silkward::sales::model::Line {
                id: silkward::house::ids::HandoverLineId(0),
                handover_id: None,
                animal_id: item.animal,
                cohort_id: item.cohort,
                stage: item.stage.filter(|_| item.cohort.is_some()),
                quantity: count,
                label: item.label.clone(),
                species_id: item.species_id,
                species: item.species.clone(),
                paper_id: None,
            };
            let mut db = house.app.read().await.unwrap();
            let checked = store::check(&mut db, line, house.app.now(), house.app.site().zone).await.unwrap();
            let goes = !checked.blocked() && checked.impossible.is_none();
            assert_eq!(goes, count <= item.ready, "{} × {count}: {:?}, {:?}", item.label, checked.findings, checked.impossible);
            compared += 1;
        }
    }
    assert!(compared > 60, "{compared}");
}

#[tokio::test]
async fn the_stock_is_added_to_an_order_and_shows_what_is_reserved() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let animal = stock::animal(&house, CALM).await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let mine = order(&mut seller).await;
    let page = seller.get("/stock?only=yes&order=1").await.ok().says("You are adding to order 1");
    assert_eq!(page.value("input[name=lot]"), format!("c{cohort}-i2"));
    let fields = [("lot", format!("c{cohort}-i2")), ("quantity", "4".to_owned()), ("pack_of", "5".to_owned())];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    seller.submit_at("/stock?order=1", &format!("{mine}/add"), &fields).await.sent_to();
    let tag = stock::tag(&house, animal).await;
    add_tags(&mut seller, &mine, &tag).await.sent_to();
    let page = seller.get("/stock").await.ok();
    page.says("0 of 1 tagged animals and 10 of 30").says("21 are reserved").says("Reserved: 20 until 22 Apr 2026 for order 1 (by Cyprian)");
    seller.get(&format!("/animals/{animal}")).await.ok().says("It is reserved until 22 Apr 2026 for order 1");
    // Whoever begins an order from the stock begins it with that line.
    let [name, contact, address] = stock::BUYER;
    let item = format!("c{cohort}-i2");
    let fields =
        [("item", item.as_str()), ("name", name), ("contact", contact), ("address", address), ("way", "outing"), ("until", "2026-04-16")];
    seller.submit("/orders/new", &fields).await.sent_to();
    let gone = [("item", "a1"), ("name", name), ("way", "outing"), ("until", "2026-04-16")];
    seller.submit("/orders/new", &gone).await.is(422).says("reserved for somebody else until 22 Apr 2026 for order 1");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_order").await, 2);
}

#[tokio::test]
async fn a_reservation_for_a_buyer_stands_until_its_day_and_is_released() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let animal = stock::animal(&house, CALM).await;
    stock::begin(&mut seller).await;
    let item = format!("c{cohort}-i2");
    let form = format!("/reservations/new?item={item}");
    let wrong = [("item", item.as_str()), ("whom", ""), ("quantity", "many"), ("until", "2020-01-01"), ("note", "two\nlines")];
    let again = seller.submit_at(&form, "/reservations/new", &wrong).await.is(422);
    assert_eq!(again.count(".mistakes li"), 4);
    let many = [("item", item.as_str()), ("whom", "b1"), ("quantity", "31"), ("until", "2026-04-17")];
    seller.submit_at(&form, "/reservations/new", &many).await.is(422).says("Only 30 are free");
    let right = [("item", item.as_str()), ("whom", "b1"), ("quantity", "25"), ("until", "2026-04-17"), ("note", "rings on Friday")];
    assert_eq!(seller.submit_at(&form, "/reservations/new", &right).await.sent_to(), "/reservations");
    let of_animal = format!("a{animal}");
    let later = [("item", of_animal.as_str()), ("whom", "b1"), ("quantity", "1"), ("until", "2026-05-30"), ("note", "")];
    seller.submit_at(&format!("/reservations/new?item={of_animal}"), "/reservations/new", &later).await.sent_to();
    let twice = seller.submit_at(&format!("/reservations/new?item={of_animal}"), "/reservations/new", &later).await.is(422);
    twice.says("for buyer 1 (by Cyprian)");
    let list = seller.get("/reservations").await.ok();
    list.says("2 reservations stand; 1 ends within three days").says("17 Apr 2026 (in 2 days)").says("rings on Friday");
    seller.submit_at("/reservations", "/reservations/2/release", &[]).await.sent_to();
    seller.submit_at("/reservations", "/reservations/2/release", &[]).await.is(409).says("has ended already");
    house.set_clock("2026-04-18T12:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    seller.get("/reservations").await.ok().says("0 reservations stand");
    seller.get("/stock").await.ok().says("30 of 30");
    seller.get("/reservations/new?item=a999").await.is(404);
    seller.get("/reservations/new?item=moon").await.is(404);
}

/// What a buyer had reserved for themselves is theirs to order; others are told who has it.
#[tokio::test]
async fn an_order_takes_over_what_its_buyer_had_reserved() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let mine = order(&mut seller).await;
    let other = seller.submit("/orders/new", &[("name", "Somebody"), ("way", "collection"), ("until", "2026-04-22")]).await.sent_to();
    let item = format!("c{cohort}-i2");
    let form = format!("/reservations/new?item={item}");
    let fields = [("item", item.as_str()), ("whom", "b1"), ("quantity", "25"), ("until", "2026-04-30")];
    seller.submit_at(&form, "/reservations/new", &fields).await.sent_to();
    let told = add_packs(&mut seller, &other, cohort, "10", "1").await.is(422);
    told.says("Only 5 are free of cohort").says("25 are reserved until 30 Apr 2026 for buyer 1 (by Cyprian)");
    add_packs(&mut seller, &mine, cohort, "20", "1").await.sent_to();
    let kept: Vec<(i64, Option<i64>)> =
        sqlx::query_as("SELECT quantity, order_id FROM reservation WHERE ended_as IS NULL ORDER BY order_id")
            .fetch_all(&house.app.database.writer)
            .await
            .unwrap();
    assert_eq!(kept, [(5, None), (20, Some(1))]);
}

/// Two thousand animals and forty cohorts; measured, and held to a second so that a statement for each animal would show.
#[tokio::test]
async fn two_thousand_animals_are_listed_within_a_second() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    for _ in 0..20 {
        stock::animal(&house, CALM).await;
        stock::cohort(&house, RISKY, 40).await;
    }
    let writer = &house.app.database.writer;
    for sql in [
        "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 1980)
         INSERT INTO animal (tag, species_id, origin, source_code, started_on, created_at)
         SELECT 'Z' || i, 1 + i % 24, 'bought', 'C', '2026-01-10', '2026-01-10T08:00:00+00:00' FROM n",
        "WITH RECURSIVE n (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 9)
         INSERT INTO meal (animal_id, day, offered_at, outcome, at)
         SELECT animal.id, date('2026-02-01', '+' || (i * 7) || ' days'), '2026-02-01T08:00:00+00:00', 'took', '2026-02-01T08:00:00+00:00' FROM animal, n",
        "INSERT INTO moult (animal_id, day, at) SELECT id, '2026-03-01', '2026-03-01T08:00:00+00:00' FROM animal",
    ] {
        sqlx::query(sql).execute(writer).await.unwrap();
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal").await, 2000);
    let begun = Instant::now();
    let stock = stock_of(&house).await;
    let read = begun.elapsed();
    assert_eq!(stock.len(), 2020);
    seller.get("/stock").await.ok().says("Later in the list");
    let whole = begun.elapsed();
    println!("stock of 2,000 animals: read {read:?}, with its page {whole:?}");
    assert!(read < Duration::from_secs(2), "{read:?}");
    let one = Item::Animal(stock.iter().find_map(|item| item.animal).unwrap());
    let mut db = house.app.read().await.unwrap();
    store::stock::one(&mut db, one, house.app.now(), house.app.site().zone).await.unwrap();
}
