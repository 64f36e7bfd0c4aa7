//! The timeline and the striking out of wrong entries.

use super::support::{animal, cleared, house};
use crate::support::number;

#[tokio::test]
async fn the_timeline_is_newest_first_under_day_headings() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    cleared(&house, keeper.id(), 1).await;
    keeper.submit("/animals/1/moulted", &[("day", "2026-03-01"), ("skin_kept", "yes")]).await.sent_to();
    keeper.submit("/animals/1/fed", &[("day", "2026-04-01"), ("outcome", "took")]).await.sent_to();
    keeper.submit("/animals/1/moved", &[("day", "2026-04-15"), ("shelf", "2")]).await.sent_to();
    let words = keeper.get("/animals/1").await.ok().words();
    let at = |text: &str| words.find(text).unwrap_or_else(|| panic!("“{text}” is not in {words}"));
    assert!(at("Wednesday 15 April 2026 today") < at("Wednesday 1 April 2026 14 days ago"));
    assert!(at("Prey offered: took it Bo") < at("Sunday 1 March 2026"));
    assert!(at("Moulted, skin kept Bo") < at("diagonal leg span: 50 mm, measured"));
}

#[tokio::test]
async fn a_long_timeline_shows_its_newest_days_first_and_all_when_asked() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    for number in 0..45 {
        sqlx::query(
            "INSERT INTO moult_sign (animal_id, day, state, at) VALUES (1, date('2026-02-01', ?), 'normal', '2026-04-15T12:00:00+00:00')",
        )
        .bind(format!("+{number} days"))
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    }
    keeper.get("/animals/1").await.ok().says("Show 6 earlier days too").lacks("Sunday 1 February 2026");
    keeper.get("/animals/1?all=yes").await.ok().says("Sunday 1 February 2026");
}

#[tokio::test]
async fn a_keeper_strikes_out_their_own_entry_and_a_lead_any() {
    let house = house().await;
    animal(&house, 1).await;
    let mut bo = house.person("Bo", "keeper").await;
    let mut cy = house.person("Cyprian", "keeper").await;
    let mut ada = house.person("Ada", "lead").await;
    bo.submit("/animals/1/moulted", &[("day", "2026-04-10")]).await.sent_to();
    bo.submit("/animals/1/moulted", &[("day", "2026-04-12")]).await.sent_to();
    cy.get("/animals/1").await.ok().lacks("Strike out");
    let (first, second) = ("/animals/1/entries/moult/1/correct", "/animals/1/entries/moult/2/correct");
    cy.get(first).await.is(403).says("Ask the lead");
    bo.submit(first, &[("reason", "")]).await.is(422).says("Fill this in.");
    bo.submit(first, &[("reason", "wrong box")]).await.sent_to();
    bo.get("/animals/1").await.ok().says("struck out by Bo: wrong box").says("instar 7");
    bo.get(first).await.is(409).says("struck out by Bo: wrong box");
    let (csrf, once) = bo.get(second).await.ok().tokens();
    ada.submit(second, &[("reason", "it was dead skin")]).await.sent_to();
    let late = [("csrf", csrf.as_str()), ("once", once.as_str()), ("reason", "mine too")];
    bo.post_raw(second, &late).await.is(409).says("corrected already");
    bo.get("/animals/1").await.ok().says("instar 6").says("Last moult none on record");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM moult").await, 4);
}

#[tokio::test]
async fn only_entries_of_this_animal_are_found() {
    let house = house().await;
    animal(&house, 1).await;
    animal(&house, 1).await;
    let mut ada = house.person("Ada", "lead").await;
    for path in [
        "/animals/1/entries/measurement/2/correct",
        "/animals/1/entries/meal/9/correct",
        "/animals/1/entries/feast/1/correct",
        "/animals/1/entries/move/1/correct",
        "/animals/9/entries/measurement/1/correct",
        "/animals/1/entries/measurement/x/correct",
    ] {
        ada.get(path).await.is(404);
    }
    ada.get("/animals/1/entries/measurement/1/correct").await.ok().says("diagonal leg span: 50 mm, measured");
}
