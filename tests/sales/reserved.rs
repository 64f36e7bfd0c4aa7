//! What is reserved is kept: nobody else takes it, and those it is kept for do.

use silkward::house::audit::Change;
use silkward::house::ids::{BuyerId, CohortId};
use silkward::reckoning::stage::Stage;
use silkward::sales::model::{Item, Keeper, Lot, NewReservation};
use silkward::sales::store::reserved;

use super::stock::{self, CALM, house};
use crate::support::TestHouse;

fn lot(cohort: CohortId, quantity: u32) -> Item {
    Item::Lot(Lot { cohort, stage: Stage::Instar(2), quantity })
}

/// Keeps something for a buyer until a day.
async fn keep(house: &TestHouse, item: Item, buyer: i64, until: &str) {
    let mut write = house.app.write(None).await.unwrap();
    let keeper = Keeper { buyer: Some(BuyerId(buyer)), ..Keeper::default() };
    let new = NewReservation { item, keeper, until: stock::day(until), note: String::new() };
    reserved::reserve(&mut write, &new).await.unwrap();
    write.commit(Change::new("test.reserved", "reservation", ""), "/").await.unwrap();
}

async fn count(house: &TestHouse, query: &'static str) -> i64 {
    sqlx::query_scalar(query).fetch_one(&house.app.database.writer).await.unwrap()
}

#[tokio::test]
async fn what_is_kept_for_one_buyer_is_not_sold_to_another() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 20).await;
    let animal = stock::animal(&house, CALM).await;
    let other = seller.submit("/handovers/new", &[("name", "Another"), ("contact", ""), ("address", "")]).await.sent_to();
    assert_eq!(other, "/handovers/1");
    let address = stock::begin(&mut seller).await;
    keep(&house, lot(cohort, 15), 1, "2026-05-30").await;
    keep(&house, Item::Animal(animal), 1, "2026-05-30").await;
    // The other's: 5 are left, and the animal is not to be had.
    seller
        .submit_at(&address, &format!("{address}/lots"), &[("lot", &format!("{cohort}-i2")), ("quantity", "6")])
        .await
        .is(422)
        .says("Only 5 are free");
    let tag = stock::tag(&house, animal).await;
    seller.submit_at(&address, &format!("{address}/animals"), &[("tag", &tag)]).await.is(422).says("reserved for somebody else until");
    stock::add_lot(&mut seller, &address, cohort, "5").await;
    stock::hand_over(&mut seller, &address, "").await.sent_to();
    // The database keeps it, whatever the code does.
    let sold = "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at) VALUES (1, '2026-04-15', 'sold', 'i2', 'sold', 1, '')";
    let refused = sqlx::query(sold).execute(&house.app.database.writer).await.unwrap_err();
    assert!(refused.to_string().contains("that many are reserved"), "{refused}");
    let refused = sqlx::query("UPDATE animal SET status = 'sold', status_on = '2026-04-15' WHERE id = ?")
        .bind(animal)
        .execute(&house.app.database.writer)
        .await
        .unwrap_err();
    assert!(refused.to_string().contains("reserved for somebody else"), "{refused}");
    // Whoever it is kept for takes a part: the rest stays kept.
    stock::add_animal(&house, &mut seller, &other, animal).await;
    stock::add_lot(&mut seller, &other, cohort, "9").await;
    stock::hand_over(&mut seller, &other, "").await.sent_to();
    assert_eq!(count(&house, "SELECT SUM(quantity) FROM reservation WHERE ended_as IS NULL").await, 6);
    assert_eq!(count(&house, "SELECT COUNT(*) FROM reservation WHERE ended_as = 'used'").await, 2);
}

#[tokio::test]
async fn a_reservation_is_free_again_after_its_last_day() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 10).await;
    seller.submit("/handovers/new", &[("name", "Another"), ("contact", ""), ("address", "")]).await.sent_to();
    keep(&house, lot(cohort, 10), 1, "2026-04-20").await;
    let address = stock::begin(&mut seller).await;
    let form = [("lot", format!("{cohort}-i2")), ("quantity", "1".to_owned())];
    let form = form.each_ref().map(|(name, value)| (*name, value.as_str()));
    seller.submit_at(&address, &format!("{address}/lots"), &form).await.is(422).says("Only 0 are free");
    house.set_clock("2026-04-21T09:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    seller.submit_at(&address, &format!("{address}/lots"), &form).await.sent_to();
    stock::hand_over(&mut seller, &address, "").await.sent_to();
}

#[tokio::test]
async fn never_more_is_kept_than_is_free() {
    let house = house().await;
    let cohort = stock::cohort(&house, CALM, 10).await;
    let mut seller = house.person("Cyprian", "counter").await;
    seller.submit("/handovers/new", &[("name", "Another"), ("contact", ""), ("address", "")]).await.sent_to();
    keep(&house, lot(cohort, 7), 1, "2026-05-01").await;
    let mut write = house.app.write(None).await.unwrap();
    let keeper = Keeper { buyer: Some(BuyerId(1)), ..Keeper::default() };
    let new = NewReservation { item: lot(cohort, 4), keeper, until: stock::day("2026-05-01"), note: String::new() };
    let refused = reserved::reserve(&mut write, &new).await.unwrap_err();
    assert!(format!("{refused:?}").contains("Only 3 are free"), "{refused:?}");
}
