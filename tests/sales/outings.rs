//! Taking stock along to sell: packed by scanning, frozen as it goes out, sold at the stall, reconciled at the end.

use super::stock::{self, BUYER, CALM, RISKY, hand_over, house};
use crate::support::{Page, Person, TestHouse, number};

const OUTING: &str = "/outings/1";

async fn plan(seller: &mut Person) {
    let to = seller.submit("/outings/new", &[("name", "Marsh Expo"), ("day", "2026-04-18"), ("last_day", "2026-04-19")]).await.sent_to();
    assert_eq!(to, OUTING);
}

async fn scan(seller: &mut Person, label: &str, quantity: &str) -> Page {
    seller.submit_at("/outings/1/pack", "/outings/1/pack", &[("scan", label), ("quantity", quantity)]).await
}

async fn go(seller: &mut Person, leave_rest: &str) -> Page {
    let version = seller.get("/outings/1/pack").await.ok().value("input[name=version]");
    seller.submit_at("/outings/1/pack", "/outings/1/go", &[("version", &version), ("leave_rest", leave_rest)]).await
}

async fn code(house: &TestHouse, id: silkward::house::ids::CohortId) -> String {
    sqlx::query_scalar("SELECT code FROM cohort WHERE id = ?").bind(id).fetch_one(&house.app.database.writer).await.unwrap()
}

/// Begins a handover at the stall; gives its address.
async fn at_stall(seller: &mut Person) -> String {
    seller.submit("/outings/1/sell", &[("name", BUYER[0])]).await.sent_to()
}

async fn sell_lot(seller: &mut Person, quantity: &str) {
    let address = at_stall(seller).await;
    stock::add_lot(seller, &address, silkward::house::ids::CohortId(1), quantity).await;
    hand_over(seller, &address, "").await.sent_to();
}

/// Sends the form of the end with the three counts of each line.
async fn back(seller: &mut Person, counts: &[(&str, [&str; 3])]) -> Page {
    let mut fields = vec![("cause", "transport"), ("until", "2026-04-29"), ("shelf", "")];
    for (line, [returned, dead, missing]) in counts {
        fields.extend([("line", *line), ("returned", *returned), ("dead", *dead), ("missing", *missing)]);
    }
    seller.submit("/outings/1/back", &fields).await
}

// The trade's worked example: out 120 = sold 74 + returned 44 + dead 1 + missing 1.
#[tokio::test]
async fn a_hundred_and_twenty_go_out_and_are_accounted_for() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 150).await;
    plan(&mut seller).await;
    let label = format!("http://127.0.0.1:7373/t/{}", code(&house, cohort).await);
    scan(&mut seller, &label, "120").await.sent_to();
    go(&mut seller, "").await.sent_to();
    seller.get(OUTING).await.ok().says("120 went out, 0 are sold so far");
    sell_lot(&mut seller, "70").await;
    sell_lot(&mut seller, "4").await;
    seller.get(OUTING).await.ok().says("74 are sold so far");
    let again = back(&mut seller, &[("1", ["44", "1", "0"])]).await.is(422);
    again.says("sold 74 + returned 44 + dead 1 + missing 0 = 119: 1 not accounted for");
    let again = back(&mut seller, &[("1", ["44", "1", "2"])]).await.is(422).says("1 more than went out");
    assert_eq!(again.value("input[name=returned]"), "44");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM ledger_line WHERE kind = 'lost'").await, 0);
    let audits = number(&house, "SELECT COUNT(*) FROM audit").await;
    back(&mut seller, &[("1", ["44", "1", "1"])]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, audits + 1);
    seller.get(OUTING).await.ok().says("Out 120 = sold 74 + returned 44 + dead 1 + missing 1.");
    // The dead died of the journey; of the missing nobody knows that they died.
    assert_eq!(number(&house, "SELECT SUM(quantity) FROM ledger_line WHERE kind = 'lost' AND cause = 'transport'").await, 1);
    assert_eq!(number(&house, "SELECT SUM(quantity) FROM ledger_line WHERE kind = 'lost' AND cause = 'escape'").await, 1);
    // Those that came back stand apart; the 30 that stayed at home are not held with them.
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE cohort_id = 2 AND bucket = 'i2'").await, 44);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE cohort_id = 1 AND bucket = 'i2'").await, 30);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE cohort_id = 2 AND kind = 'quarantine' AND blocks = 'hands-in'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE cohort_id = 1").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM reservation WHERE ended_as IS NULL").await, 0);
    let address = stock::begin(&mut seller).await;
    seller.submit_at(&address, &format!("{address}/lots"), &[("lot", "2-i2"), ("quantity", "5")]).await.sent_to();
    hand_over(&mut seller, &address, "").await.is(422).says("in quarantine until 30 April 2026: back from Marsh Expo");
    seller.get("/outings/1/back").await.is(409).says("back and reconciled");
}

#[tokio::test]
async fn animals_come_home_die_or_go_missing_each_in_its_own_way() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let mut tags = Vec::new();
    for name in [CALM, CALM, CALM, RISKY] {
        let animal = stock::animal(&house, name).await;
        tags.push(stock::tag(&house, animal).await);
    }
    plan(&mut seller).await;
    for tag in &tags {
        scan(&mut seller, &format!("/t/{tag}"), "").await.sent_to();
    }
    seller.get("/outings/1/pack").await.ok().says("Band 3: dangerous").says("4 in the boxes");
    go(&mut seller, "").await.sent_to();
    let address = at_stall(&mut seller).await;
    let page = seller.get(&address).await.ok();
    assert_eq!(page.count("select#stall-tag option"), 5);
    seller.submit_at(&address, &format!("{address}/animals"), &[("tag", &tags[0])]).await.sent_to();
    let none = ["0", "0", "0"];
    back(&mut seller, &[("1", none), ("2", none), ("3", none), ("4", none)]).await.is(422).says("still being made ready");
    hand_over(&mut seller, &address, "").await.sent_to();
    back(&mut seller, &[("1", ["0", "0", "0"]), ("2", ["1", "0", "0"]), ("3", ["", "1", "0"])]).await.is(422).says("whole number");
    let counts = [("1", ["0", "0", "0"]), ("2", ["1", "0", "0"]), ("3", ["0", "1", "0"]), ("4", ["0", "0", "1"])];
    back(&mut seller, &counts).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE id = 1 AND status = 'sold'").await, 1);
    assert_eq!(
        number(&house, "SELECT COUNT(*) FROM animal JOIN hold ON hold.animal_id = animal.id WHERE animal.id = 2 AND status = 'alive'")
            .await,
        1
    );
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE id = 3 AND status = 'dead' AND loss_cause = 'transport'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE id = 4 AND status = 'escaped' AND loss_cause = 'escape'").await, 1);
}

#[tokio::test]
async fn what_is_kept_for_an_outing_is_sold_nowhere_else() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let animal = stock::animal(&house, CALM).await;
    let tag = stock::tag(&house, animal).await;
    plan(&mut seller).await;
    seller.submit_at(OUTING, "/outings/1/animals", &[("tag", &tag)]).await.sent_to();
    seller.submit_at(OUTING, "/outings/1/lots", &[("lot", &format!("{cohort}-i2")), ("quantity", "20")]).await.sent_to();
    seller.get(OUTING).await.ok().says("second instar · 10 free");
    let address = stock::begin(&mut seller).await;
    seller.submit_at(&address, &format!("{address}/animals"), &[("tag", &tag)]).await.is(422).says("reserved for somebody else");
    seller.submit_at(&address, &format!("{address}/lots"), &[("lot", "1-i2"), ("quantity", "11")]).await.is(422).says("Only 10 are free");
    seller.submit_at(OUTING, "/outings/1/cancel", &[]).await.sent_to();
    seller.submit_at(&address, &format!("{address}/animals"), &[("tag", &tag)]).await.sent_to();
}

#[tokio::test]
async fn only_what_is_out_is_sold_at_the_stall_and_never_more() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let (home, sold) = (stock::animal(&house, CALM).await, code(&house, cohort).await);
    plan(&mut seller).await;
    scan(&mut seller, &sold, "10").await.sent_to();
    seller.get("/outings/1/sell").await.is(409);
    go(&mut seller, "").await.sent_to();
    let (first, second) = (at_stall(&mut seller).await, at_stall(&mut seller).await);
    let tag = stock::tag(&house, home).await;
    seller.submit_at(&first, &format!("{first}/animals"), &[("tag", &tag)]).await.is(422).says("not out on the outing");
    seller.submit_at(&first, &format!("{first}/lots"), &[("lot", "1-i2"), ("quantity", "11")]).await.is(422).says("Only 10 more are left");
    stock::add_lot(&mut seller, &first, cohort, "6").await;
    stock::add_lot(&mut seller, &second, cohort, "6").await;
    hand_over(&mut seller, &first, "").await.sent_to();
    hand_over(&mut seller, &second, "").await.is(409).says("4 are left on the outing");
    let writer = &house.app.database.writer;
    let put = "INSERT INTO handover_line (handover_id, animal_id, quantity) VALUES (2, 1, 1)";
    assert!(sqlx::query(put).execute(writer).await.unwrap_err().to_string().contains("not out on the outing"));
}

#[tokio::test]
async fn what_is_chosen_and_not_packed_stays_only_when_somebody_says_so() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    plan(&mut seller).await;
    go(&mut seller, "").await.is(422).says("Nothing is in the boxes yet");
    seller.submit_at(OUTING, "/outings/1/lots", &[("lot", &format!("{cohort}-i2")), ("quantity", "20")]).await.sent_to();
    let label = code(&house, cohort).await;
    scan(&mut seller, &label, "15").await.sent_to();
    go(&mut seller, "").await.is(422).says("20 chosen, 15 in the boxes");
    go(&mut seller, "yes").await.sent_to();
    assert_eq!(number(&house, "SELECT quantity FROM outing_line").await, 15);
    assert_eq!(number(&house, "SELECT SUM(quantity) FROM reservation WHERE ended_as IS NULL").await, 15);
    let writer = &house.app.database.writer;
    for change in [
        "UPDATE outing_line SET quantity = 14",
        "DELETE FROM outing_line",
        "INSERT INTO outing_line (outing_id, cohort_id, stage, quantity, at) VALUES (1, 1, 'i3', 1, '2026-04-15')",
        "UPDATE outing SET state = 'cancelled'",
        "UPDATE outing SET state = 'reconciled'",
        "INSERT INTO outing_back (outing_line_id, sold, returned, dead, missing, at) VALUES (1, 0, 10, 0, 0, '2026-04-15')",
        "INSERT INTO outing_back (outing_line_id, sold, returned, dead, missing, at) VALUES (1, 5, 10, 0, 0, '2026-04-15')",
    ] {
        assert!(sqlx::query(change).execute(writer).await.is_err(), "{change}");
    }
}

#[tokio::test]
async fn labels_that_mean_nothing_are_told_apart() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let animal = stock::animal(&house, CALM).await;
    let tag = stock::tag(&house, animal).await;
    plan(&mut seller).await;
    let label = code(&house, cohort).await;
    for (typed, quantity, says) in [
        ("", "", "Fill this in"),
        ("ZZ-26-9", "1", "is mistyped"),
        (label.as_str(), "", "Enter how many"),
        (label.as_str(), "31", "Only 30 stand"),
        (label.as_str(), "0", "whole number"),
        (tag.as_str(), "2", "one animal"),
    ] {
        let again = scan(&mut seller, typed, quantity).await.is(422).says(says);
        assert_eq!(again.value("#scan"), typed);
        assert_eq!(again.value("#quantity"), quantity);
    }
    scan(&mut seller, &tag, "").await.sent_to();
    seller.submit_at("/outings/1/pack", "/outings/1/unpack", &[("item", "a-1")]).await.sent_to();
    seller.submit_at("/outings/1/pack", "/outings/1/unpack", &[("item", "a-1")]).await.is(409);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM reservation WHERE ended_as IS NULL").await, 0);
    let stale = [("version", "1"), ("leave_rest", "")];
    seller.submit_at("/outings/1/pack", "/outings/1/go", &stale).await.is(409).says("was changed since");
}

#[tokio::test]
async fn an_outing_needs_a_name_and_days_in_order() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let bad = [("name", ""), ("day", "2026-04-14"), ("last_day", "soon"), ("note", "kept")];
    let again = seller.submit("/outings/new", &bad).await.is(422).says("kept");
    assert_eq!(again.count(".mistakes li"), 3);
    let reversed = [("name", "Expo"), ("day", "2026-04-18"), ("last_day", "2026-04-17")];
    seller.submit("/outings/new", &reversed).await.is(422);
    seller
        .submit("/outings/new", &[("name", "Expo"), ("day", "2026-04-18"), ("last_day", "2026-06-18")])
        .await
        .is(422)
        .says("at most 14 days");
    let long = "x".repeat(300);
    seller.submit("/outings/new", &[("name", &long), ("day", "2026-04-18")]).await.is(422).says("300 characters");
    seller.get("/outings/9").await.is(404);
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/outings").await.is(403);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM outing").await, 0);
}
