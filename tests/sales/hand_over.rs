//! Stock leaves once, with its papers, whoever presses how often.

use super::stock::{self, CALM, RISKY, add_animal, add_lot, begin, hand_over, house};
use crate::support::number;

#[tokio::test]
async fn three_animals_and_forty_spiderlings_leave_with_their_papers() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    let address = begin(&mut seller).await;
    for name in [CALM, CALM, RISKY] {
        let animal = stock::animal(&house, name).await;
        add_animal(&house, &mut seller, &address, animal).await;
    }
    add_lot(&mut seller, &address, cohort, "40").await;
    let mut write = house.app.write(None).await.unwrap();
    silkward::rounds::store::plan_house(&mut write).await.unwrap();
    write.commit(silkward::house::audit::Change::new("test.planned", "day", ""), "/").await.unwrap();
    assert!(number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open' AND animal_id IS NOT NULL").await > 0);
    seller.get(&address).await.ok().says("Band 3: dangerous").says("Ready to leave today");
    let audits = number(&house, "SELECT COUNT(*) FROM audit").await;
    assert_eq!(hand_over(&mut seller, &address, "").await.sent_to(), address);

    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'sold' AND shelf_id IS NULL").await, 3);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'i2'").await, 20);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'sold'").await, 40);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open' AND animal_id IS NOT NULL").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, audits + 1);
    let numbers: Vec<String> = sqlx::query_scalar("SELECT number FROM paper WHERE kind = 'care-sheet' ORDER BY id")
        .fetch_all(&house.app.database.writer)
        .await
        .unwrap();
    assert_eq!(numbers, ["S-2026-0001", "S-2026-0002", "S-2026-0003", "S-2026-0004"]);
    let page = seller.get(&address).await.ok();
    page.says("handed over").says("S-2026-0004").says("40 of cohort").says("10 papers are issued");
    seller.get(&format!("{address}/papers")).await.ok().says("S-2026-0001");
}

#[tokio::test]
async fn numbers_start_anew_each_year_and_leave_no_gap() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    stock::done(&house, &mut seller).await;
    house.set_clock("2027-01-02T12:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    stock::done(&house, &mut seller).await;
    stock::done(&house, &mut seller).await;
    let numbers: Vec<String> = sqlx::query_scalar("SELECT number FROM paper WHERE kind = 'care-sheet' ORDER BY id")
        .fetch_all(&house.app.database.writer)
        .await
        .unwrap();
    assert_eq!(numbers, ["S-2026-0001", "S-2027-0001", "S-2027-0002"]);
}

#[tokio::test]
async fn the_trail_names_the_buyer_by_number_only() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    stock::done(&house, &mut seller).await;
    let trail: Vec<String> =
        sqlx::query_scalar("SELECT subject || before || after FROM audit").fetch_all(&house.app.database.writer).await.unwrap();
    let trail = trail.join("\n");
    for canary in stock::BUYER {
        assert!(!trail.contains(canary), "{trail}");
    }
    let fingerprint: String = sqlx::query_scalar("SELECT fingerprint FROM paper WHERE kind = 'origin-statement'")
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap();
    assert!(trail.contains(&fingerprint));
}

#[tokio::test]
async fn an_animal_on_two_lists_leaves_once() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let animal = stock::animal(&house, CALM).await;
    let (first, second) = (begin(&mut seller).await, begin(&mut seller).await);
    add_animal(&house, &mut seller, &first, animal).await;
    add_animal(&house, &mut seller, &second, animal).await;
    hand_over(&mut seller, &first, "").await.sent_to();
    hand_over(&mut seller, &second, "").await.is(409).says("sold on 15 April 2026");
    // A lead's reason does not bring it back.
    let mut lead = house.person("Ada", "lead").await;
    hand_over(&mut lead, &second, "the buyer insists").await.is(409);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper WHERE kind = 'care-sheet'").await, 1);
}

#[tokio::test]
async fn a_sold_animal_is_not_put_on_another_list() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let animal = stock::animal(&house, CALM).await;
    let tag = stock::tag(&house, animal).await;
    let first = begin(&mut seller).await;
    add_animal(&house, &mut seller, &first, animal).await;
    hand_over(&mut seller, &first, "").await.sent_to();
    let second = begin(&mut seller).await;
    let again = seller.submit_at(&second, &format!("{second}/animals"), &[("tag", &tag)]).await.is(422);
    assert_eq!(again.value("#tag"), tag);
    again.says("is not in the house: sold");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover_line").await, 1);
}

#[tokio::test]
async fn a_double_click_hands_over_once() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    let animal = stock::animal(&house, CALM).await;
    add_animal(&house, &mut seller, &address, animal).await;
    let page = seller.get(&address).await.ok();
    let ((csrf, once), version) = (page.tokens(), page.value("input[name=version]"));
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("version", version.as_str()), ("override_reason", "")];
    let button = format!("{address}/hand-over");
    let first = seller.post_raw(&button, &form).await.sent_to();
    assert_eq!(seller.post_raw(&button, &form).await.sent_to(), first);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper WHERE kind = 'care-sheet'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'handover.done'").await, 1);
}

#[tokio::test]
async fn of_two_counters_at_once_one_hands_over_and_the_other_is_told() {
    let house = house().await;
    let mut one = house.person("Cyprian", "counter").await;
    let mut two = house.person("Dee", "counter").await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    let address = begin(&mut one).await;
    add_lot(&mut one, &address, cohort, "40").await;
    let version = one.get(&address).await.value("input[name=version]");
    let button = format!("{address}/hand-over");
    let fields = [("version", version.as_str())];
    let (first, second) = tokio::join!(one.submit_at(&address, &button, &fields), two.submit_at(&address, &button, &fields));
    let mut answers = [first.status.as_u16(), second.status.as_u16()];
    answers.sort_unstable();
    assert_eq!(answers, [303, 409]);
    let told = if first.status.as_u16() == 409 { first } else { second };
    told.says("has handed this over already");
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'sold'").await, 40);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper WHERE kind = 'care-sheet'").await, 1);
}

#[tokio::test]
async fn two_handovers_at_once_never_sell_more_than_there_are() {
    let house = house().await;
    let mut one = house.person("Cyprian", "counter").await;
    let mut two = house.person("Dee", "counter").await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    let (first, second) = (begin(&mut one).await, begin(&mut two).await);
    add_lot(&mut one, &first, cohort, "40").await;
    add_lot(&mut two, &second, cohort, "40").await;
    let (one, two) = tokio::join!(hand_over(&mut one, &first, ""), hand_over(&mut two, &second, ""));
    let mut answers = [one.status.as_u16(), two.status.as_u16()];
    answers.sort_unstable();
    assert_eq!(answers, [303, 409]);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'sold'").await, 40);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover WHERE state = 'draft'").await, 1);
}

#[tokio::test]
async fn a_list_that_changed_since_it_was_seen_is_not_handed_over() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    let first = stock::animal(&house, CALM).await;
    add_animal(&house, &mut seller, &address, first).await;
    let seen = seller.get(&address).await.value("input[name=version]");
    let second = stock::animal(&house, CALM).await;
    add_animal(&house, &mut seller, &address, second).await;
    seller.submit_at(&address, &format!("{address}/hand-over"), &[("version", &seen)]).await.is(409).says("was changed since");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper").await, 0);
}

#[tokio::test]
async fn a_cancelled_handover_takes_no_more() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    let animal = stock::animal(&house, CALM).await;
    add_animal(&house, &mut seller, &address, animal).await;
    let (csrf, once) = seller.get(&address).await.tokens();
    let form = [("csrf", csrf.as_str()), ("once", once.as_str())];
    assert_eq!(seller.post_raw(&format!("{address}/cancel"), &form).await.sent_to(), "/handovers");
    let tag = stock::tag(&house, animal).await;
    seller.submit_at(&address, &format!("{address}/animals"), &[("tag", &tag)]).await.is(409).says("was cancelled");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'alive'").await, 1);
}

#[tokio::test]
async fn a_line_comes_off_once() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    let animal = stock::animal(&house, CALM).await;
    add_animal(&house, &mut seller, &address, animal).await;
    let button = format!("{address}/lines/1/remove");
    seller.submit_at(&address, &button, &[]).await.sent_to();
    seller.submit_at(&address, &button, &[]).await.is(409).says("taken off already");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover_line").await, 0);
}

#[tokio::test]
async fn the_database_refuses_a_handover_that_is_not_whole() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    let animal = stock::animal(&house, CALM).await;
    add_animal(&house, &mut seller, &address, animal).await;
    let close = "UPDATE handover SET state = 'done', day = '2026-04-15', done_at = '2026-04-15T12:00:00+00:00', done_by = 1";
    let refused = sqlx::query(close).execute(&house.app.database.writer).await.unwrap_err().to_string();
    assert!(refused.contains("a line has no care sheet"), "{refused}");
    stock::done(&house, &mut seller).await;
    for change in
        ["UPDATE paper SET title = 'x'", "DELETE FROM paper", "DELETE FROM handover_line WHERE handover_id = 2", "DELETE FROM buyer_link"]
    {
        assert!(sqlx::query(change).execute(&house.app.database.writer).await.is_err(), "{change}");
    }
}
