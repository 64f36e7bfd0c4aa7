//! The list of animals.

use super::support::{animal, house};

#[tokio::test]
async fn the_list_is_narrowed_and_its_summary_is_in_the_trades_notation() {
    let house = house().await;
    for _ in 0..8 {
        animal(&house, 1).await;
    }
    animal(&house, 2).await;
    for statement in [
        "UPDATE animal SET sex = 'male', sex_basis = 'exuvium' WHERE id = 1",
        "UPDATE animal SET sex = 'female', sex_basis = 'suspected' WHERE id IN (2, 3)",
        "UPDATE animal SET shelf_id = NULL, locality = 'North Valley' WHERE id = 4",
        "UPDATE animal SET status = 'sold', status_on = '2026-04-01', shelf_id = NULL WHERE id = 8",
    ] {
        sqlx::query(statement).execute(&house.app.database.writer).await.unwrap();
    }
    let mut keeper = house.person("Bo", "keeper").await;
    let all = keeper.get("/animals").await.ok().says("8 animals, 1.2.5").says("female, suspected").says("Band 3: dangerous");
    assert_eq!(all.count("tbody tr"), 8);
    keeper.get("/animals?species=2").await.ok().says("1 animal, 0.0.1");
    keeper.get("/animals?rack=1").await.ok().says("7 animals, 1.2.4");
    keeper.get("/animals?status=sold").await.ok().says("1 animal, 0.0.1").says("sold 1 Apr 2026");
    keeper.get("/animals?status=any").await.ok().says("9 animals");
    keeper.get("/animals?sex=female").await.ok().says("2 animals, 0.2.0");
    let found = keeper.get("/animals?text=north+valley").await.ok().says("1 animal");
    assert_eq!(found.value("#text"), "north valley");
    keeper.get("/animals?text=Celer").await.ok().says("1 animal");
}

#[tokio::test]
async fn a_question_that_makes_no_sense_is_answered_with_a_list() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    for question in [
        "species=x&rack=-1&status=%00&sex=9&page=soon",
        "page=99999999999999999999",
        "page=-5",
        "text=%25%27%22--",
        "text=%20-%20",
        "unknown=1",
    ] {
        keeper.get(&format!("/animals?{question}")).await.ok();
    }
    let long = format!("/animals?text={}", "x".repeat(2000));
    keeper.get(&long).await.ok().says("No animal fits this.");
}

#[tokio::test]
async fn a_long_list_comes_in_pages() {
    let house = house().await;
    for _ in 0..101 {
        animal(&house, 1).await;
    }
    let mut keeper = house.person("Bo", "keeper").await;
    let first = keeper.get("/animals?species=1").await.ok().says("101 animals").says("Later in the list");
    assert_eq!(first.count("tbody tr"), 100);
    let second = keeper.get("/animals?species=1&page=1").await.ok().says("Earlier in the list").lacks("Later in the list");
    assert_eq!(second.count("tbody tr"), 1);
}
