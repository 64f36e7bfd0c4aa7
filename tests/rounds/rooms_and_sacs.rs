//! Readings of rooms, and turns of sacs.

use silkward::house::ids::DutyId;

use super::stock::{CALM, animal, house, plan};
use crate::support::{Person, TestHouse, number};

async fn open(house: &TestHouse, kind: &str) -> Option<DutyId> {
    sqlx::query_scalar("SELECT id FROM duty WHERE kind = ? AND state = 'open'")
        .bind(kind)
        .fetch_optional(&house.app.database.writer)
        .await
        .unwrap()
}

async fn sign(person: &mut Person, duty: DutyId, form: &str, fields: &[(&str, &str)]) -> crate::support::Page {
    let page = format!("/round/duties/{duty}");
    person.submit_at(&page, &format!("{page}{form}"), fields).await
}

async fn undo_last(house: &TestHouse, person: &mut Person) {
    let id = number(house, "SELECT MAX(id) FROM signoff").await;
    person.submit_at("/round", &format!("/round/sign-offs/{id}/undo"), &[]).await.sent_to();
}

#[tokio::test]
async fn a_room_that_holds_stock_is_read_once_a_day() {
    let house = house().await;
    plan(&house).await;
    assert_eq!(open(&house, "room-reading").await, None, "an empty room needs no reading");
    animal(&house, CALM, 1).await;
    plan(&house).await;
    let duty = open(&house, "room-reading").await.unwrap();
    let mut bo = house.keeper("Bo", 0).await;
    let page = bo.get(&format!("/round/duties/{duty}")).await.ok().says("Read the climate Quiet room").lacks("Found dead");
    assert_eq!(page.count("input[name=celsius]"), 1);
    sign(&mut bo, duty, "/readings", &[("rack", "1"), ("celsius", ""), ("humidity", "")]).await.is(422).says("at least one instrument");
    let kept = sign(&mut bo, duty, "/readings", &[("rack", "1"), ("celsius", "warm"), ("humidity", "101")]).await.is(422);
    assert_eq!((kept.count(".mistakes li"), kept.value("#celsius-1")), (2, "warm".to_owned()));
    sign(&mut bo, duty, "", &[("outcome", "done")]).await.is(422);
    sign(&mut bo, duty, "", &[("outcome", "threat")]).await.is(422).says("can't end as");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM climate_reading").await, 0);
    sign(&mut bo, duty, "/readings", &[("rack", "1"), ("celsius", "24,5"), ("humidity", "61")]).await.sent_to();
    assert_eq!(number(&house, "SELECT decicelsius FROM climate_reading_standing WHERE rack_id = 1 AND humidity = 61").await, 245);
    assert_eq!(open(&house, "room-reading").await, None);

    undo_last(&house, &mut bo).await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM climate_reading_standing").await, 0);
    assert!(open(&house, "room-reading").await.is_some());
    // A reading noted on the rack's own page does as well; the next is due tomorrow.
    let fields = [("day", "2026-04-15"), ("time", "11:00"), ("celsius", "24"), ("humidity", "")];
    bo.submit("/racks/1/read", &fields).await.sent_to();
    assert_eq!(open(&house, "room-reading").await, None);
    house.set_clock("2026-04-18T12:00:00Z");
    plan(&house).await;
    let late =
        "SELECT COUNT(*) FROM duty WHERE kind = 'room-reading' AND state = 'open' AND due_on = '2026-04-16' AND late_after = '2026-04-16'";
    assert_eq!(number(&house, late).await, 1);
}

#[tokio::test]
async fn could_not_read_needs_a_reason() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    plan(&house).await;
    let duty = open(&house, "room-reading").await.unwrap();
    let mut bo = house.keeper("Bo", 0).await;
    sign(&mut bo, duty, "", &[("outcome", "could-not")]).await.is(422);
    sign(&mut bo, duty, "", &[("outcome", "could-not"), ("why", "battery empty")]).await.sent_to();
    assert_eq!(open(&house, "room-reading").await, None);
}

#[tokio::test]
async fn a_pulled_sac_is_turned_three_times_a_day_until_legs_are_out() {
    let house = house().await;
    sqlx::query(
        "INSERT INTO sac (species_id, laid_on, pulled_on, incubation, created_at)
         VALUES (4, '2026-03-10', '2026-04-15', 'pulled', '2026-03-10T08:00:00+00:00')",
    )
    .execute(&house.app.database.writer)
    .await
    .unwrap();
    plan(&house).await;
    let mut bo = house.keeper("Bo", 1).await;
    let first = open(&house, "sac-turn").await.unwrap();
    bo.get(&format!("/round/duties/{first}")).await.ok().says("3 times a day, about every 8 hours, until legs are out").says("Turned");
    sign(&mut bo, first, "", &[("outcome", "done")]).await.sent_to();
    // Turned at noon: again at eight in the evening.
    let again = "SELECT COUNT(*) FROM duty WHERE kind = 'sac-turn' AND state = 'open' AND due_at LIKE '2026-04-15T20:00%'";
    assert_eq!(number(&house, again).await, 1);
    let second = open(&house, "sac-turn").await.unwrap();
    sign(&mut bo, second, "/legs-out", &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sac WHERE legs_out_on = '2026-04-15'").await, 1);
    house.set_clock("2026-04-15T12:05:00Z");
    undo_last(&house, &mut bo).await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sac WHERE legs_out_on IS NULL").await, 1);
    let third = open(&house, "sac-turn").await.unwrap();
    sign(&mut bo, third, "/legs-out", &[]).await.sent_to();
    house.set_clock("2026-04-17T12:00:00Z");
    plan(&house).await;
    assert_eq!(open(&house, "sac-turn").await, None);
    assert!(open(&house, "sac-check").await.is_some(), "checks go on");
    let mut bo = house.sign_in(bo.id()).await;
    bo.get("/breeding/sacs/1/due")
        .await
        .ok()
        .says("Turn sac")
        .says("Not needed: legs are out: it is turned no more.")
        .says("Late: due since 16 Apr 2026");
}
