//! How a cohort fares, on its page.

use silkward::cohorts::model::NewLine;
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::LossCause;

use super::stock::{april, cohort, library, post};
use crate::support::TestHouse;

const SECOND: Stage = Stage::Instar(2);

/// Two cohorts of a species: of 60, 18 die within nine days; of 80, one.
async fn two_cohorts() -> TestHouse {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let dying = cohort(&house.app, &[(SECOND, 60)]).await;
    let sister = cohort(&house.app, &[(SECOND, 80)]).await;
    for day in [4, 6, 9] {
        post(&house.app, dying, &NewLine::lost(april(day), SECOND, 6, LossCause::Desiccation)).await.unwrap();
    }
    post(&house.app, sister, &NewLine::lost(april(5), SECOND, 1, LossCause::Unknown)).await.unwrap();
    house
}

#[tokio::test]
async fn a_cohort_that_dies_faster_than_its_sisters_says_so() {
    let house = two_cohorts().await;
    let mut counter = house.person("Cyprian", "counter").await;
    let page = counter.get("/cohorts/1").await.ok().says("dying faster than its sisters, p < 0.001 (log-rank test)");
    let page = page.says("Day 0 is 1 April 2026").says("number at risk");
    assert_eq!((page.count("#survival > svg[role=img]"), page.count("#fare .note.warning")), (1, 1));
    let sister = counter.get("/cohorts/2").await.ok().says("dying slower than its sisters");
    assert_eq!(sister.count("#fare .note.warning"), 0);
}

#[tokio::test]
async fn the_chart_has_a_title_a_description_its_figures_and_a_file() {
    let house = two_cohorts().await;
    let mut counter = house.person("Cyprian", "counter").await;
    let page = counter.get("/cohorts/1").await.ok();
    assert_eq!(page.attribute("#survival > svg", "aria-labelledby"), "survival-title survival-desc");
    assert_eq!(page.count("#survival-title") + page.count("#survival-desc"), 2);
    // Of 60: 54, 48, 42 alive after days 3, 5 and 8 (product-limit by hand).
    let page = page.says("3 60 6 90.0").says("5 54 6 80.0").says("8 48 6 70.0");
    assert_eq!(page.count("#survival script, #survival [style], #survival [fill]"), 0, "coloured by the style sheet alone");
    let file = counter.get("/cohorts/1/survival.csv").await.ok();
    assert!(file.headers["content-type"].to_str().unwrap().starts_with("text/csv"));
    let text = file.text();
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    assert_eq!(lines[0], "day,at risk,lost,\"survival, %\",\"lower limit, %\",\"upper limit, %\"");
    assert!(lines[1].starts_with("3,60,6,90.0,"), "{}", lines[1]);
    assert_eq!(lines.len(), 4);
}

#[tokio::test]
async fn day_zero_can_be_chosen_and_one_that_is_not_known_says_what_to_do() {
    let house = two_cohorts().await;
    let mut counter = house.person("Cyprian", "counter").await;
    counter.get("/cohorts/1?from=laid").await.ok().says("The day the egg sac was laid isn't known; enter it, or choose another day 0.");
    counter.get("/cohorts/1/survival.csv?from=laid").await.is(409);
    counter.get("/cohorts/1?from=horoscope").await.ok().says("since second instar");
}

#[tokio::test]
async fn losses_stand_by_stage_and_cause() {
    let house = two_cohorts().await;
    let mut counter = house.person("Cyprian", "counter").await;
    post(&house.app, silkward::house::ids::CohortId(1), &NewLine::moulted(april(10), SECOND, Stage::Instar(3), 40)).await.unwrap();
    // 18 of 60 lost, 2 still there: 18 / (60 - 2/2) = 30.5 %.
    let page = counter.get("/cohorts/1").await.ok().says("second instar 60 18 2 30.5 100.0 18 dried out");
    // Figures stand one under the other; causes are words, and may break.
    let table = "#fare > .scroller tbody tr:first-child";
    assert_eq!((page.count(&format!("{table} td.number")), page.count(&format!("{table} td:not(.number)"))), (5, 1));
    page.says("third instar 40 0 40 0.0 69.5");
    counter.get("/cohorts/1/losses.csv").await.ok().says("18 dried out");
}

#[tokio::test]
async fn what_was_split_off_is_followed_with_its_cohort() {
    let house = two_cohorts().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let fields = [("day", "2026-04-12"), ("stage", "i2"), ("quantity", "10"), ("shelf", "1")];
    let there = keeper.submit("/cohorts/2/split", &fields).await.sent_to();
    keeper.get("/cohorts/2").await.ok().says("80 followed, 1 lost").says("What was split off is followed together with it.");
    let child = if there == "/cohorts/2" { "/cohorts/3".to_owned() } else { there };
    keeper.get(&child).await.ok().says("80 followed, 1 lost");
    // What was split off again is of the same family.
    let fields = [("day", "2026-04-13"), ("stage", "i2"), ("quantity", "3"), ("shelf", "1")];
    keeper.submit(&format!("{child}/split"), &fields).await.sent_to();
    keeper.get("/cohorts/4").await.ok().says("80 followed, 1 lost");
    let roots: Vec<(i64, i64, i64)> =
        sqlx::query_as("SELECT * FROM cohort_root ORDER BY cohort_id").fetch_all(&house.app.database.writer).await.unwrap();
    assert_eq!(roots, [(1, 1, 0), (2, 2, 0), (3, 2, 1), (4, 2, 2)]);
}

#[tokio::test]
async fn a_cohort_that_moulted_shows_the_window_of_the_next_moult() {
    let house = two_cohorts().await;
    post(&house.app, silkward::house::ids::CohortId(2), &NewLine::moulted(april(8), SECOND, Stage::Instar(3), 70)).await.unwrap();
    let mut counter = house.person("Cyprian", "counter").await;
    let page = counter.get("/cohorts/2").await.ok().says("Most (70) are in third instar, half of them since about 8 Apr 2026");
    // The spiderling's usual range of its profile, √(5/4) times as wide in logarithms as the house has learnt nothing, in
    // whole days; the clock stands at 15 April, day 7, long before it.
    let (least, most): (f64, f64) = sqlx::query_as(
        "SELECT CAST(moult_min_days AS REAL), CAST(moult_max_days AS REAL) FROM care_now JOIN care_stage USING (profile_id)
         WHERE stage = 'spiderling' AND species_id = (SELECT species_id FROM cohort WHERE id = 2)",
    )
    .fetch_one(&house.app.database.writer)
    .await
    .unwrap();
    let (middle, aside) = ((least * most).sqrt(), (most / least).powf(1.25_f64.sqrt() / 2.0));
    let on = |days: f64| silkward::house::text::day(&(april(8) + chrono::Days::new(days as u64)));
    let (from, to) = (on((middle / aside).ceil()), on((middle * aside).floor()));
    page.says(&format!("to be expected to moult from {from} to {to} (four out of five)")).says("the usual");
}
