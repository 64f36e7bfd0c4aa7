//! What an animal's spans and moults say of what comes.

use silkward::animals::model::{NewMoult, NewSpan};
use silkward::animals::store;
use silkward::house::audit::Change;
use silkward::house::ids::AnimalId;
use silkward::reckoning::words::{SpanKind, SpanMethod};

use super::support::{animal, day, house};
use crate::support::TestHouse;

async fn moulted(house: &TestHouse, id: AnimalId, on: &str, mm: i64) {
    let span = Some(NewSpan { kind: SpanKind::LegSpan, mm, method: SpanMethod::Measured });
    let moult = NewMoult { day: day(on), skin_kept: false, note: String::new(), span, signoff: None };
    // Written down on the day itself: what was told of the next one rests on when it was written down.
    house.set_clock(&format!("{on}T12:00:00Z"));
    let mut write = house.app.write(None).await.unwrap();
    store::record_moult(&mut write, id, &moult).await.unwrap();
    silkward::rounds::store::replan_animal(&mut write, id).await.unwrap();
    write.commit(Change::new("animal.moulted", format!("animal {id}"), ""), "/").await.unwrap();
    house.set_clock("2026-04-15T12:00:00Z");
}

async fn looked_at(house: &TestHouse, id: AnimalId, on: &str) {
    let mut write = house.app.write(None).await.unwrap();
    store::record_sign(&mut write, id, silkward::reckoning::words::MoultState::Normal, day(on), None).await.unwrap();
    silkward::rounds::store::replan_animal(&mut write, id).await.unwrap();
    write.commit(Change::new("animal.looked_at", format!("animal {id}"), ""), "/").await.unwrap();
}

#[tokio::test]
async fn growth_is_drawn_with_its_line_once_three_skins_are_known() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    moulted(&house, id, "2026-01-20", 63).await;
    let page = keeper.get(&format!("/animals/{id}")).await.ok().says("A line needs spans of at least three skins; 2 on record.");
    assert_eq!(page.count("#growth"), 1);
    moulted(&house, id, "2026-04-01", 79).await;
    // 50, 63, 79 mm: slope of ln = (ln 79 - ln 50) / 2, so × 1.257 a moult; next about 100 mm.
    let page =
        keeper.get(&format!("/animals/{id}")).await.ok().says("It grows × 1.26 a moult (from 3 spans); after the next moult about 99 mm");
    page.says("From 50 mm at instar 6 to 79 mm at instar 8.");
    let file = keeper.get(&format!("/animals/{id}/growth.csv")).await.ok();
    assert_eq!(file.text().lines().count(), 5, "three spans, a forecast and the head");
}

#[tokio::test]
async fn the_window_of_the_next_moult_is_shown_and_draws_the_checks_closer() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get(&format!("/animals/{id}")).await.ok().says("Next moult not known: no moult on record");
    moulted(&house, id, "2026-01-20", 63).await;
    looked_at(&house, id, "2026-04-01").await;
    // 60 to 120 days is usual. √7200 = 84.85 days / and × 2^(√1.25 / 2) = 1.4733 (as the house's own mean is not known) make
    // 57.6 to 125.0: day 58, 19 March, to day 125, 25 May. The clock stands at 15 April, day 85.
    let page = keeper.get(&format!("/animals/{id}")).await.ok().says("within 7 days").says("the usual 60 to 120 days");
    assert_eq!(page.count("#moults"), 1);
    let reason: String = sqlx::query_scalar("SELECT reason FROM duty WHERE animal_id = ? AND kind = 'moult-check' AND state = 'open'")
        .bind(id)
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap();
    assert!(reason.starts_with("a moult is to be expected (four times out of five) from 19 March 2026 to 25 May 2026"), "{reason}");
    let mut lead = house.person("Ada", "lead").await;
    lead.get("/today").await.ok().says("Moults to be expected (1)");
    let file = keeper.get(&format!("/animals/{id}/moults.csv")).await.ok();
    assert!(file.text().contains("2026-01-20,"));
}

#[tokio::test]
async fn past_forecasts_are_held_against_what_came() {
    let house = house().await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/animals/forecasts").await.ok().says("No forecast can be judged yet");
    for (first, second) in [("2025-01-02", "2025-03-25"), ("2025-01-02", "2025-01-12")] {
        let id = animal(&house, 1).await;
        sqlx::query("UPDATE animal SET started_on = '2025-01-01' WHERE id = ?").bind(id).execute(&house.app.database.writer).await.unwrap();
        for on in [first, second] {
            sqlx::query("INSERT INTO moult (animal_id, day, at) VALUES (?, ?, ? || 'T09:00:00+00:00')")
                .bind(id)
                .bind(on)
                .bind(on)
                .execute(&house.app.database.writer)
                .await
                .unwrap();
        }
    }
    // 82 days lie inside 58 to 125, 10 days come early; each second moult's own window has closed without a third.
    let page =
        keeper.get("/animals/forecasts").await.ok().says("1 of 4 windows of 80 % held").says("1 moults came early, 2 late or not yet");
    page.says("Mitis lenta 4 1 1 2 25");
    assert!(keeper.get("/animals/forecasts.csv").await.ok().text().contains("Mitis lenta,4,1,1,2,25,"));
}

#[tokio::test]
async fn an_animal_that_has_left_has_no_window() {
    let house = house().await;
    let id = animal(&house, 1).await;
    moulted(&house, id, "2026-01-20", 63).await;
    let mut keeper = house.person("Bo", "keeper").await;
    let fields = [("day", "2026-04-14"), ("how", "dead"), ("cause", "unknown")];
    keeper.submit(&format!("/animals/{id}/left"), &fields).await.sent_to();
    keeper.get(&format!("/animals/{id}")).await.ok().lacks("within 7 days");
}
