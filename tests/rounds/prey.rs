//! Prey for the coming days.

use super::stock::{CALM, animal, cohort, house, plan};
use crate::support::number;

#[tokio::test]
async fn the_coming_week_is_added_up_by_kind_and_a_stock_is_held_against_it() {
    let house = house().await;
    let id = animal(&house, CALM, 1).await;
    cohort(&house, CALM, 40).await;
    for day in ["2026-04-02", "2026-04-05"] {
        sqlx::query("INSERT INTO meal (animal_id, day, offered_at, prey, outcome, at) VALUES (?, ?, ?2 || 'T09:00:00+00:00', 'cricket', 'took', ?2 || 'T09:00:00+00:00')")
            .bind(id)
            .bind(day)
            .execute(&house.app.database.writer)
            .await
            .unwrap();
    }
    plan(&house).await;
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    let mut bo = house.person("Bo", "keeper").await;
    let page = bo.get("/today/prey").await.ok().says("cricket").says("prey (kind not noted)").says("nine times out of ten");
    page.says("Day by day");
    // Two offers taken of two, drawn towards 85 % with the weight of six: 7.1 / 8 = 0.8875 a feed.
    bo.get("/today/prey?kind=cricket&on_hand=0").await.ok().says("on hand");
    let again = bo.get("/today/prey?kind=cricket&on_hand=many").await.is(422);
    assert_eq!(again.value("input[name=on_hand]"), "many");
    assert!(bo.get("/today/prey.csv").await.ok().text().starts_with("day,prey,animals,to prepare,"));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before);
}
