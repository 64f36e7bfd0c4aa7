//! What a buyer brings back: into quarantine, and sold again after.

use super::stock::{self, CALM, add_animal, begin, hand_over, house};
use crate::support::{Page, Person, TestHouse, number};

async fn bring_back(seller: &mut Person, address: &str, line: &str, quantity: &str, more: &[(&str, &str)]) -> Page {
    let mut fields = vec![
        ("line", line),
        ("quantity", quantity),
        ("stage", ""),
        ("day", "2026-04-15"),
        ("reason", "allergic to dust"),
        ("condition", "sound"),
        ("until", "2026-05-15"),
        ("shelf", ""),
    ];
    for (name, value) in more {
        fields.retain(|(known, _)| known != name);
        fields.push((name, value));
    }
    seller.submit(&format!("{address}/return"), &fields).await
}

async fn sold_animal(house: &TestHouse, seller: &mut Person) -> (String, String) {
    let animal = stock::animal(house, CALM).await;
    let address = begin(seller).await;
    add_animal(house, seller, &address, animal).await;
    hand_over(seller, &address, "").await.sent_to();
    (address, stock::tag(house, animal).await)
}

#[tokio::test]
async fn an_animal_is_sold_brought_back_held_and_sold_again() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let (first, tag) = sold_animal(&house, &mut seller).await;
    let audits = number(&house, "SELECT COUNT(*) FROM audit").await;
    bring_back(&mut seller, &first, "1", "1", &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, audits + 1);
    seller.get(&first).await.ok().says("Brought back on 15 Apr 2026").says(&tag);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'alive'").await, 1);
    seller.get("/animals/1").await.ok().says("sold, brought back");
    // Quarantine stops the sale.
    let second = begin(&mut seller).await;
    seller.submit_at(&second, &format!("{second}/animals"), &[("tag", &tag)]).await.sent_to();
    hand_over(&mut seller, &second, "").await.is(422).says("in quarantine until 16 May 2026: brought back, handover 1");
    // After it, it is sold again, with a sheet of its own.
    house.set_clock("2026-05-20T10:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    hand_over(&mut seller, &second, "").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'sold' AND status_on = '2026-05-20'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper WHERE kind = 'care-sheet'").await, 2);
    // By the first handover nothing comes back twice; by the second it may.
    bring_back(&mut seller, &first, "1", "1", &[("day", "2026-05-20"), ("until", "2026-06-20")]).await.is(422).says("Only 0 of this line");
    bring_back(&mut seller, &second, "2", "1", &[("day", "2026-05-20"), ("until", "2026-06-20")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'alive'").await, 1);
}

#[tokio::test]
async fn without_a_return_the_database_lets_no_sold_animal_come_alive() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let (address, _) = sold_animal(&house, &mut seller).await;
    let writer = &house.app.database.writer;
    let alive = "UPDATE animal SET status = 'alive', status_on = NULL";
    assert!(sqlx::query(alive).execute(writer).await.is_err());
    bring_back(&mut seller, &address, "1", "1", &[]).await.sent_to();
    // A return brings it back once.
    sqlx::query("UPDATE animal SET status = 'sold', status_on = '2026-04-15'").execute(writer).await.unwrap();
    assert!(sqlx::query(alive).execute(writer).await.is_err());
    for change in [
        "UPDATE sale_return SET reason = 'x'",
        "DELETE FROM sale_return",
        "INSERT INTO sale_return (handover_line_id, animal_id, quantity, day, reason, at) VALUES (1, 1, 1, '2026-04-15', 'x', 'now')",
    ] {
        assert!(sqlx::query(change).execute(writer).await.is_err(), "{change}");
    }
}

#[tokio::test]
async fn spiderlings_come_back_as_a_cohort_of_their_own_and_nothing_leaks() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    let address = begin(&mut seller).await;
    stock::add_lot(&mut seller, &address, cohort, "40").await;
    hand_over(&mut seller, &address, "").await.sent_to();
    bring_back(&mut seller, &address, "1", "41", &[]).await.is(422).says("Only 40 of this line");
    bring_back(&mut seller, &address, "1", "6", &[("stage", "i3")]).await.sent_to();
    bring_back(&mut seller, &address, "1", "4", &[]).await.sent_to();
    bring_back(&mut seller, &address, "1", "31", &[]).await.is(422).says("Only 30 of this line");
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE cohort_id = 1 AND bucket = 'sold'").await, 40);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE cohort_id = 1 AND bucket = 'i2'").await, 20);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE cohort_id = 2 AND bucket = 'i3'").await, 6);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE cohort_id = 3 AND bucket = 'i2'").await, 4);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM cohort WHERE parent_cohort_id = 1 AND origin = 'split'").await, 2);
    let leaks = "SELECT COUNT(*) FROM cohort WHERE (SELECT quantity FROM ledger_balance WHERE cohort_id = cohort.id AND bucket = 'in')
         <> (SELECT SUM(quantity) FROM ledger_balance WHERE cohort_id = cohort.id AND bucket <> 'in')";
    assert_eq!(number(&house, leaks).await, 0);
    // Those at home are not held, those that came back are.
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE cohort_id = 1").await, 0);
    let again = begin(&mut seller).await;
    seller.submit_at(&again, &format!("{again}/lots"), &[("lot", "2-i3"), ("quantity", "2")]).await.sent_to();
    hand_over(&mut seller, &again, "").await.is(422).says("in quarantine until 16 May 2026");
}

#[tokio::test]
async fn survival_follows_them_again_from_the_day_they_are_back() {
    use silkward::reckoning::survival::{Origin, OriginDays, followed_from_ledger};
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    let address = begin(&mut seller).await;
    stock::add_lot(&mut seller, &address, cohort, "40").await;
    hand_over(&mut seller, &address, "").await.sent_to();
    house.set_clock("2026-04-25T12:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    bring_back(&mut seller, &address, "1", "6", &[("day", "2026-04-25")]).await.sent_to();
    let species = stock::species(&house, CALM).await;
    let mut db = house.app.read().await.unwrap();
    let family = silkward::cohorts::store::families(&mut db, species).await.unwrap().remove(0);
    let followed = followed_from_ledger(&family.lines, &[], Origin::SecondInstar, OriginDays::default(), stock::day("2026-04-25")).unwrap();
    // 60 from day 0 (1 March), 6 more that enter late on day 55; 40 left on day 45; nobody is at risk between the two.
    let entries: Vec<(u32, u32)> = followed.followed.entries.iter().map(|entry| (entry.day, entry.count)).collect();
    assert_eq!(entries, [(0, 60), (55, 6)]);
    assert_eq!((followed.lost, followed.left, followed.alive), (0, 66, 26));
}

#[tokio::test]
async fn a_return_needs_its_reason_and_days_in_order() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let (address, _) = sold_animal(&house, &mut seller).await;
    let again =
        bring_back(&mut seller, &address, "x", "0", &[("reason", ""), ("day", "2026-04-16"), ("until", "2026-04-01")]).await.is(422);
    assert_eq!(again.count(".mistakes li"), 5);
    assert_eq!(again.value("#condition"), "sound");
    bring_back(&mut seller, &address, "1", "1", &[("day", "2026-04-14")]).await.is(422).says("before it was handed over");
    bring_back(&mut seller, &address, "9", "1", &[]).await.is(422).says("Choose one of the list");
    let draft = begin(&mut seller).await;
    seller.get(&format!("{draft}/return")).await.is(409);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_return").await, 0);
}

#[tokio::test]
async fn what_arrived_dead_does_not_come_back() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    let address = begin(&mut seller).await;
    stock::add_lot(&mut seller, &address, cohort, "10").await;
    let fields = [
        ("carrier", "van"),
        ("day", "2026-04-15"),
        ("unit", "c"),
        ("here_low", "10"),
        ("here_high", "20"),
        ("there_low", "10"),
        ("there_high", "20"),
    ];
    seller.submit(&format!("{address}/journey"), &fields).await.sent_to();
    hand_over(&mut seller, &address, "").await.sent_to();
    house.set_clock("2026-04-16T12:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    let told = [("day", "2026-04-16"), ("hour", "09:00"), ("line", "1"), ("alive", "3"), ("injured", "0"), ("dead", "7")];
    seller.submit(&format!("{address}/arrival"), &told).await.sent_to();
    bring_back(&mut seller, &address, "1", "4", &[("day", "2026-04-16")]).await.is(422).says("Only 3 of this line");
    bring_back(&mut seller, &address, "1", "3", &[("day", "2026-04-16")]).await.sent_to();
}

#[tokio::test]
async fn what_tells_of_an_erased_buyer_goes_and_the_figures_stay() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let (address, _) = sold_animal(&house, &mut seller).await;
    bring_back(&mut seller, &address, "1", "1", &[("reason", "canary-reason"), ("condition", "canary-look")]).await.sent_to();
    let mut write = house.app.write(Some(seller.id())).await.unwrap();
    silkward::sales::store::erasure::erase(&mut write, silkward::house::ids::BuyerId(1)).await.unwrap();
    write.commit(silkward::house::audit::Change::new("test.erased", "buyer 1", ""), "/").await.unwrap();
    let kept: (String, String, i64) =
        sqlx::query_as("SELECT reason, condition, quantity FROM sale_return").fetch_one(&house.app.database.writer).await.unwrap();
    assert_eq!(kept, ("(erased with the buyer)".to_owned(), String::new(), 1));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE reason LIKE '%canary%'").await, 0);
}
