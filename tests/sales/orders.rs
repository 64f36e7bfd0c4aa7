//! Orders: what is on them is kept, priced, and handed over, whole or in parts.

use super::stock::{self, CALM, RISKY, house};
use super::trade::{add_packs, add_tags, order, scan, set_terms, to_handover, usual_prices};
use crate::support::number;

#[tokio::test]
async fn three_animals_and_forty_spiderlings_are_ordered_packed_and_handed_over_with_a_receipt() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter keeper").await;
    usual_prices(&house, &mut seller).await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    let order = order(&mut seller).await;
    let mut tags = Vec::new();
    for _ in 0..3 {
        let animal = stock::animal(&house, CALM).await;
        tags.push(stock::tag(&house, animal).await);
    }
    // One form: three tags, one after the other as a scanner gives them, and eight packs of five.
    let lot = format!("{cohort}-i2");
    let typed = tags.join("\r\n");
    let fields = [("tag", typed.as_str()), ("lot", lot.as_str()), ("quantity", "8"), ("pack_of", "5")];
    let audits = number(&house, "SELECT COUNT(*) FROM audit").await;
    seller.submit_at(&order, &format!("{order}/add"), &fields).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, audits + 1);
    // 3 × 49.90 + 8 × 20.00 = 309.70; 20/120 of it is 51.6166…, so 51.62.
    seller.get(&order).await.ok().says("Total 309.70 EUR").says("VAT 20 % 51.62").says("Net 258.08").says("kept until 22 Apr 2026");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM reservation WHERE ended_as IS NULL").await, 4);
    stock::clear(&house, seller.id(), 1).await;
    let handover = to_handover(&mut seller, &order).await;
    seller.get(&handover).await.ok().says("Not packed yet").says("Total 309.70 EUR");
    let all = format!("{} {}", tags.join(" "), code(&house).await);
    scan(&mut seller, &handover, &[("code", &all), ("count", "40"), ("packer", "2")]).await.sent_to();
    seller.get(&format!("{handover}/pack")).await.ok().says("43 of 43 in the box");
    stock::hand_over(&mut seller, &handover, "").await.sent_to();
    seller.get(&handover).await.ok().says("The receipt is R-2026-0001").says("Total 309.70 EUR");
    seller.get(&order).await.ok().says("handed over");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_order WHERE state = 'handed-over' AND ended_at IS NOT NULL").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM reservation WHERE ended_as IS NULL").await, 0);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'sold'").await, 40);
    seller.submit_at("/orders/new", &format!("{order}/cancel"), &[]).await.is(409).says("has been handed over");
}

async fn code(house: &crate::support::TestHouse) -> String {
    sqlx::query_scalar("SELECT code FROM cohort").fetch_one(&house.app.database.writer).await.unwrap()
}

#[tokio::test]
async fn what_may_not_leave_today_stays_on_the_order_for_a_later_handover() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter keeper lead").await;
    let (ready, held) = (stock::animal(&house, CALM).await, stock::animal(&house, CALM).await);
    let order = order(&mut seller).await;
    let tags = format!("{} {}", stock::tag(&house, ready).await, stock::tag(&house, held).await);
    add_tags(&mut seller, &order, &tags).await.sent_to();
    sqlx::query("INSERT INTO hold (animal_id, kind, blocks, from_at, until_at, reason) VALUES (?, 'quarantine', 'hands-in', '2026-04-01T08:00:00+00:00', '2026-04-20T08:00:00+00:00', 'new')")
        .bind(held).execute(&house.app.database.writer).await.unwrap();
    let handover = to_handover(&mut seller, &order).await;
    seller.get(&handover).await.ok().says("Left on the order").says("in quarantine");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover_line").await, 1);
    stock::hand_over(&mut seller, &handover, "not checked, the boxes were closed already").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_order WHERE state = 'open'").await, 1);
    seller.submit_at(&order, &format!("{order}/hand-over"), &[]).await.is(422).says("Nothing of this order may leave today");
    house.set_clock("2026-04-21T12:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    let later = to_handover(&mut seller, &order).await;
    stock::hand_over(&mut seller, &later, "not checked").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_order WHERE state = 'handed-over'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'sold'").await, 2);
}

#[tokio::test]
async fn a_handover_that_is_cancelled_gives_its_lines_back_to_the_order() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let order = order(&mut seller).await;
    add_packs(&mut seller, &order, cohort, "12", "1").await.sent_to();
    add_packs(&mut seller, &order, cohort, "2", "5").await.sent_to();
    let handover = to_handover(&mut seller, &order).await;
    assert_eq!(number(&house, "SELECT quantity FROM handover_line").await, 22);
    seller.submit_at(&order, &format!("{order}/cancel"), &[]).await.is(409).says("is being made ready");
    seller.submit_at(&handover, &format!("{handover}/cancel"), &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_line WHERE handover_id IS NULL").await, 2);
    let again = to_handover(&mut seller, &order).await;
    seller.submit_at(&again, &format!("{again}/lines/2/remove"), &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_line WHERE handover_id IS NULL").await, 2);
    seller.submit_at(&order, &format!("{order}/cancel"), &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM reservation WHERE ended_as IS NULL").await, 0);
}

#[tokio::test]
async fn numbers_and_prices_are_changed_on_the_order_and_its_stock_follows() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    usual_prices(&house, &mut seller).await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let order = order(&mut seller).await;
    add_packs(&mut seller, &order, cohort, "4", "1").await.sent_to();
    add_packs(&mut seller, &order, cohort, "2", "1").await.sent_to();
    assert_eq!(number(&house, "SELECT quantity FROM reservation WHERE ended_as IS NULL").await, 6);
    let to = format!("{order}/lines");
    for (packs, price) in [("31", "5"), ("0", "5"), ("6", "1e12"), ("6", "-1"), ("6", "NaN"), ("6", "5.005"), ("many", "x")] {
        let again = seller.submit_at(&order, &to, &[("line", "1"), ("packs", packs), ("price", price)]).await.is(422);
        assert_eq!((again.value("input[name=packs]"), again.value("input[name=price]")), (packs.to_owned(), price.to_owned()));
    }
    seller.submit_at(&order, &to, &[("line", "1"), ("packs", "10"), ("price", "4,50")]).await.sent_to();
    let page = seller.get(&order).await.ok();
    page.says("discount 5.00").says("Total 45.00 EUR");
    assert_eq!(number(&house, "SELECT quantity FROM reservation WHERE ended_as IS NULL").await, 10);
    seller.submit_at(&order, &to, &[("line", "99"), ("packs", "1"), ("price", "1")]).await.is(422).says("taken off meanwhile");
    seller.submit_at(&order, &format!("{order}/lines/1/remove"), &[]).await.sent_to();
    seller.submit_at(&order, &format!("{order}/lines/1/remove"), &[]).await.is(409).says("taken off already");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM reservation WHERE ended_as IS NULL").await, 0);
}

#[tokio::test]
async fn an_order_that_lapsed_keeps_its_stock_again_if_it_is_still_free() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let first = order(&mut seller).await;
    add_packs(&mut seller, &first, cohort, "20", "1").await.sent_to();
    house.set_clock("2026-04-23T12:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    seller.get(&first).await.ok().says("Its stock is kept no more");
    add_packs(&mut seller, &first, cohort, "1", "1").await.is(422).says("is past");
    let edit = format!("{first}/edit");
    let version = seller.get(&edit).await.ok().value("input[name=version]");
    let fields =
        [("way", "dispatch"), ("wanted_on", "2026-05-02"), ("until", "2026-05-01"), ("note", "by rail"), ("version", version.as_str())];
    let stale = [("way", "dispatch"), ("until", "2026-05-01"), ("note", "typed with care"), ("version", "77")];
    let told = seller.submit(&edit, &stale).await.is(409);
    told.says("Somebody changed this order").says("typed with care");
    let past = [("way", "rail"), ("until", "2026-04-01"), ("wanted_on", "soon"), ("version", "1")];
    assert_eq!(seller.submit(&edit, &past).await.is(422).count(".mistakes li"), 3);
    seller.submit(&edit, &fields).await.sent_to();
    seller.get(&first).await.ok().says("kept until 1 May 2026").says("2 May 2026").says("sent");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM reservation WHERE ended_as = 'lapsed'").await, 1);
    assert_eq!(number(&house, "SELECT quantity FROM reservation WHERE ended_as IS NULL").await, 20);
}

#[tokio::test]
async fn an_order_needs_a_buyer_and_nothing_typed_is_lost() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let long = "x".repeat(300);
    let fields = [("name", long.as_str()), ("way", ""), ("until", "tomorrow"), ("wanted_on", "2020-01-01"), ("note", "ring first")];
    let again = seller.submit("/orders/new", &fields).await.is(422);
    assert_eq!(again.count(".mistakes li"), 4);
    again.says("ring first");
    seller.submit("/orders/new", &[("buyer", "99"), ("way", "collection"), ("until", "2026-04-22")]).await.is(422).says("not in the book");
    seller.get("/orders/99").await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_order").await, 0);
}

#[tokio::test]
async fn mistyped_tags_are_all_named_and_nothing_is_added() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let animal = stock::animal(&house, CALM).await;
    let tag = stock::tag(&house, animal).await;
    let order = order(&mut seller).await;
    let wrong = format!("X{}", &tag[1..]);
    let typed = format!("{tag}\n{wrong}\nNOWHERE");
    let again = add_tags(&mut seller, &order, &typed).await.is(422).says("is mistyped").says("NOWHERE");
    again.says(&wrong);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_line").await, 0);
    // A scanner gives the whole address of the label.
    let address = format!("http://127.0.0.1:7373/t/{tag}");
    add_tags(&mut seller, &order, &address).await.sent_to();
    add_tags(&mut seller, &order, &tag).await.is(422).says("already on the list");
    add_tags(&mut seller, &order, "").await.is(422).says("Scan or type a tag");
}

#[tokio::test]
async fn the_pick_list_walks_and_says_who_may_pack() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter keeper lead").await;
    let writer = &house.app.database.writer;
    for sql in [
        "INSERT INTO room (id, name, walk_order) VALUES (1, 'Quiet room', 1)",
        "INSERT INTO rack (id, room_id, name, walk_order) VALUES (1, 1, 'A', 1)",
        "INSERT INTO shelf (id, rack_id, number, walk_order) VALUES (1, 1, 1, 2), (2, 1, 2, 1)",
    ] {
        sqlx::query(sql).execute(writer).await.unwrap();
    }
    let (later, sooner) = (stock::animal(&house, CALM).await, stock::animal(&house, RISKY).await);
    sqlx::query("UPDATE animal SET shelf_id = CASE id WHEN ? THEN 1 ELSE 2 END").bind(later).execute(writer).await.unwrap();
    let order = order(&mut seller).await;
    let tags = format!("{} {}", stock::tag(&house, later).await, stock::tag(&house, sooner).await);
    add_tags(&mut seller, &order, &tags).await.sent_to();
    let page = seller.get(&format!("{order}/pick")).await.ok();
    let words = page.words();
    let at = |tag: &str| words.find(tag).unwrap();
    assert!(at(&stock::tag(&house, sooner).await) < at(&stock::tag(&house, later).await), "{words}");
    page.says("Band 3: dangerous").says("two people, clearance 3: nobody");
    stock::clear(&house, seller.id(), 3).await;
    seller.get(&format!("{order}/pick")).await.ok().says("two people, clearance 3: Cyprian");
    seller.get("/orders/pick").await.ok().says("Nothing is to be fetched");
    seller.get("/orders/pick?day=soon").await.ok().says("Enter a day");
}

#[tokio::test]
async fn the_pages_of_orders_name_the_buyer_to_sellers_only() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let order = order(&mut seller).await;
    add_packs(&mut seller, &order, cohort, "4", "1").await.sent_to();
    seller.get("/orders").await.ok().says(stock::BUYER[0]);
    seller.get("/reservations").await.ok().says(stock::BUYER[0]);
    seller.get("/buyers/1").await.ok().says("Order 1");
    let mut keeper = house.person("Bo", "keeper").await;
    for path in ["/orders", "/orders/1", "/reservations", "/stock", "/prices", "/orders/pick"] {
        keeper.get(path).await.is(403);
    }
    let page = keeper.get(&format!("/cohorts/{cohort}")).await.ok().says("4 are reserved until 22 Apr 2026 for order 1");
    page.lacks(stock::BUYER[0]);
}
