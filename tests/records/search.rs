//! The search.

use silkward::species::store;

use crate::support::TestHouse;

async fn stocked() -> TestHouse {
    let house = TestHouse::start().await;
    let mut write = house.app.write(None).await.unwrap();
    store::seed_library(&mut write).await.unwrap();
    sqlx::query(
        "INSERT INTO animal (tag, species_id, origin, source_code, started_on, created_at) VALUES ('TAG7X', 1, 'bought', 'C', '2026-01-01', '2026-01-01')",
    )
    .execute(write.db())
    .await
    .unwrap();
    sqlx::query(
        "INSERT INTO cohort (code, species_id, origin, source_code, started_on, created_at) VALUES ('C-26-07', 1, 'bought', 'C', '2026-01-01', '2026-01-01')",
    )
    .execute(write.db())
    .await
    .unwrap();
    sqlx::query("INSERT INTO buyer (name, contact, created_at) VALUES ('Canary Quill', 'quill@example.org', '2026-01-01')")
        .execute(write.db())
        .await
        .unwrap();
    write.commit(silkward::house::audit::Change::new("test.stocked", "test 1", ""), "/").await.unwrap();
    house
}

#[tokio::test]
async fn tags_codes_and_names_are_found_by_a_part() {
    let house = stocked().await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/records?q=tag7").await.ok().says("TAG7X");
    keeper.get("/records?q=26-07").await.ok().says("C-26-07");
    let former: (String, String) = sqlx::query_as(
        "SELECT species_name.name, species.accepted_name FROM species_name JOIN species ON species.id = species_name.species_id
         WHERE kind = 'former' LIMIT 1",
    )
    .fetch_one(&house.app.database.writer)
    .await
    .unwrap();
    let asked: String = url::form_urlencoded::byte_serialize(former.0.as_bytes()).collect();
    keeper.get(&format!("/records?q={asked}")).await.ok().says(&former.1).says("former name");
    keeper.get("/records?q=zzzzzz").await.ok().says("Nothing in the book has");
}

#[tokio::test]
async fn hostile_questions_find_nothing_and_break_nothing() {
    let house = stocked().await;
    let mut keeper = house.person("Bo", "keeper").await;
    for asked in ["%25", "_", "'%20OR%201=1--", "%00", "%3Cscript%3E", "%F0%9F%95%B7"] {
        keeper.get(&format!("/records?q={asked}")).await.ok().lacks("TAG7X");
    }
    let long = "a".repeat(500);
    keeper.get(&format!("/records?q={long}")).await.ok().says("Search for 80 characters at most.");
}

#[tokio::test]
async fn buyers_are_found_by_those_who_hand_over_only() {
    let house = stocked().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let answer = keeper.get("/records?q=quill").await.ok();
    assert!(!answer.text().contains("Canary"));
    for roles in ["counter", "lead", "owner"] {
        let mut person = house.person(roles, roles).await;
        person.get("/records?q=quill").await.ok().says("Canary Quill");
    }
}
