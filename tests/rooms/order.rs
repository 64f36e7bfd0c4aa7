//! The walking order is changed one place at a time, without dragging.

use crate::rounds::stock::{CALM, animal, give_all, house, plan};
use crate::support::number;

#[tokio::test]
async fn a_shelf_a_rack_and_a_room_are_walked_earlier_or_later() {
    let house = house().await;
    let writer = &house.app.database.writer;
    for sql in [
        "INSERT INTO room (id, name, walk_order) VALUES (2, 'Annexe', 9)",
        "INSERT INTO rack (id, room_id, name, walk_order) VALUES (2, 1, 'Zinnia', 9), (3, 2, 'Alder', 1)",
        "INSERT INTO shelf (id, rack_id, number) VALUES (4, 2, 1), (5, 3, 1)",
    ] {
        sqlx::query(sql).execute(writer).await.unwrap();
    }
    for shelf in [1, 2, 4, 5] {
        animal(&house, CALM, shelf).await;
    }
    plan(&house).await;
    let mut lead = house.person("Lea", "lead keeper").await;
    crate::rounds::stock::clear(&house, lead.id(), 2, "2027-12-31").await;
    give_all(&house, lead.id()).await;
    let order = |words: String| {
        let mut found: Vec<(usize, u32)> = (1..=4).filter_map(|n| Some((words.find(&format!("T-{n} "))?, n))).collect();
        found.sort_unstable();
        found.into_iter().map(|(_, n)| n).collect::<Vec<_>>()
    };
    sqlx::query("UPDATE duty SET assigned_to = 1, assigned_on = '2026-04-15' WHERE state = 'open'").execute(writer).await.unwrap();
    assert_eq!(order(lead.get("/round").await.ok().words()), [1, 2, 3, 4]);
    lead.submit_at("/rooms/order", "/shelves/2/move", &[("step", "earlier")]).await.sent_to();
    assert_eq!(order(lead.get("/round").await.ok().words()), [2, 1, 3, 4]);
    lead.submit_at("/rooms/order", "/racks/2/move", &[("step", "earlier")]).await.sent_to();
    assert_eq!(order(lead.get("/round").await.ok().words()), [3, 2, 1, 4]);
    lead.submit_at("/rooms/order", "/rooms/2/move", &[("step", "earlier")]).await.sent_to();
    assert_eq!(order(lead.get("/round").await.ok().words()), [4, 3, 2, 1]);
    lead.submit_at("/rooms/order", "/rooms/2/move", &[("step", "earlier")]).await.is(409).says("can't be walked any earlier");
    lead.submit_at("/rooms/order", "/rooms/2/move", &[("step", "sideways")]).await.is(400);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action LIKE '%.moved'").await, 3);
    let mut keeper = house.person("Kim", "keeper").await;
    keeper.get("/rooms/order").await.is(403);
}
