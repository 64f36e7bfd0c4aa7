//! Rooms and racks, as a lead sets them up.

mod climate;
mod order;

use crate::support::{TestHouse, number};

#[tokio::test]
async fn a_lead_adds_a_room_and_a_rack_and_sees_them() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    let there = lead.submit("/rooms/new", &[("name", "Quiet room"), ("walk_order", "1")]).await.sent_to();
    assert_eq!(there, "/rooms");
    lead.submit("/rooms/1/racks/new", &[("name", "B"), ("walk_order", "2"), ("shelves", "4")]).await.sent_to();
    lead.get("/rooms").await.ok().says("Quiet room").says("Rack B stands in Quiet room.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM shelf").await, 4);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, 2);
}

#[tokio::test]
async fn a_wrong_form_keeps_what_was_typed_and_names_every_mistake() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    let again = lead.submit("/rooms/new", &[("name", ""), ("walk_order", "soon")]).await.is(422);
    assert_eq!(again.value("#walk_order"), "soon");
    assert_eq!(again.count(".mistakes li"), 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, 0);
}

#[tokio::test]
async fn a_name_that_is_taken_is_named_at_its_field() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    lead.submit("/rooms/new", &[("name", "Quiet room"), ("walk_order", "1")]).await.sent_to();
    let again = lead.submit("/rooms/new", &[("name", "quiet ROOM"), ("walk_order", "2")]).await.is(422);
    assert!(again.text().contains("name-error"));
}

#[tokio::test]
async fn a_double_click_makes_one_room() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    let (csrf, once) = lead.get("/rooms/new").await.ok().tokens();
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("name", "Quiet room"), ("walk_order", "1")];
    let first = lead.post_raw("/rooms/new", &form).await.sent_to();
    let second = lead.post_raw("/rooms/new", &form).await.sent_to();
    assert_eq!(first, second);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM room").await, 1);
}

#[tokio::test]
async fn a_keeper_reads_but_does_not_change() {
    let house = TestHouse::start().await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/rooms").await.ok().lacks("Add a room");
    keeper.get("/rooms/new").await.is(403).says("This is for the lead.");
}
