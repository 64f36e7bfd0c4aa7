//! Scorecards of cohorts, through their pages.

use silkward::cohorts::model::NewLine;
use silkward::house::ids::CohortId;
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::LossCause;

use super::stock::{april, cohort, library, post};
use crate::support::{Person, TestHouse, number};

const EWL: Stage = Stage::PostEmbryo;
const I1: Stage = Stage::Instar(1);
const I2: Stage = Stage::Instar(2);

/// Posts the way of a cohort from post-embryo to second instar: so many lost on the way, on the 3rd and the 5th of April.
async fn raised(house: &TestHouse, id: CohortId, young: u32, first: u32, second: u32) {
    let day = |day: u32| april(day);
    for line in [
        NewLine::lost(day(2), EWL, young - first, LossCause::Mould),
        NewLine::moulted(day(3), EWL, I1, first),
        NewLine::lost(day(4), I1, first - second, LossCause::FailedMoult),
        NewLine::moulted(day(5), I1, I2, second),
    ] {
        post(&house.app, id, &line).await.unwrap();
    }
}

/// The worked ledger: 240 post-embryos, 231 first instar, 219 second instar, 140 sold, 31 dead, one escaped, five traded.
async fn worked() -> (TestHouse, Person) {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(EWL, 240)]).await;
    raised(&house, id, 240, 231, 219).await;
    for line in [
        NewLine::lost(april(7), I2, 31, LossCause::Desiccation),
        NewLine::lost(april(8), I2, 1, LossCause::Escape),
        NewLine::sold(april(9), I2, 140),
        NewLine::sold(april(10), I2, 5),
    ] {
        post(&house.app, id, &line).await.unwrap();
    }
    let keeper = house.person("Bo", "keeper").await;
    (house, keeper)
}

/// Survival to second instar 91.25 % of 240, with Wilson's limits (Newcombe 1998, method 3), reckoned apart: 87.0 to 94.2 %.
#[tokio::test]
async fn the_worked_ledger_shows_its_survival_to_second_instar() {
    let (_house, mut keeper) = worked().await;
    let page = keeper.get("/cohorts/1/scorecard").await.ok();
    let page = page.says("survival to second instar 91.25 87.0 to 94.2 219 of 240 young");
    let page =
        page.says("hatch rate – – no eggs were counted").says("no earlier cohort to compare with").says("1 escaped, which is no death");
    // Product-limit by hand: 188 of 219 after the 31, four days on, when the first 140 were sold.
    let page = page.says("survival to sale 85.8").says("day 4, by which half of 145 sold had left");
    let page = page.says("alive 90 days after second instar – – nobody was followed so long yet");
    let page = page.says("dried out 31 59.6").says("failed moult 12 23.1").says("mould 9 17.3");
    let page = page.says("post-embryo 240 1 Apr 2026 – 2").says("first instar 231 3 Apr 2026 – 2").says("second instar 219 5 Apr 2026 – –");
    assert_eq!(page.count("#to-second"), 0, "one cohort makes no chart");
    let file = keeper.get("/cohorts/1/scorecard.csv").await.ok().text();
    assert!(file.contains("survival to second instar,91.25,87.0 to 94.2,219 of 240 young"), "{file}");
    keeper.get("/cohorts/1").await.ok().says("Scorecard");
    keeper.get("/cohorts/9/scorecard").await.is(404);
}

/// A cohort that began a day later stands beside this one; the earlier ones' median and range are those of this one alone.
#[tokio::test]
async fn a_later_cohort_is_held_against_the_earlier_ones_with_a_test() {
    let (house, mut keeper) = worked().await;
    for (young, first, second) in [(200, 120, 100), (100, 95, 92)] {
        let id = cohort(&house.app, &[(EWL, young)]).await;
        raised(&house, id, young, first, second).await;
    }
    sqlx::query("UPDATE cohort SET started_on = '2026-03-30' WHERE id = 1").execute(&house.app.database.writer).await.unwrap();
    let page = keeper.get("/cohorts/2/scorecard").await.ok().says("survival to second instar 50.00");
    assert_eq!(page.count("#to-second > svg[role=img]"), 1);
    page.says("91.2 91.2 to 91.2 1 lower: its limits lie below theirs (all together 91.2 % (87.0 to 94.2 %))");
    let page = keeper.get("/cohorts/3/scorecard").await.ok().says("survival to second instar 92.00");
    page.says("no difference that these numbers can show: the limits overlap");
}

#[tokio::test]
async fn a_species_shows_its_years_and_names_the_best_with_what_it_rests_on() {
    let (house, mut keeper) = worked().await;
    let species = number(&house, "SELECT species_id FROM cohort").await;
    let address = format!("/species/{species}/scorecards");
    let page = keeper
        .get(&address)
        .await
        .ok()
        .says("Best year so far: 2026, with 219 of 240 young to second instar, 91.2 % (87.0 to 94.2 %), resting on 1 cohort.");
    page.says("No other year has a cohort that is through, to hold it against.");
    let id = cohort(&house.app, &[(EWL, 100)]).await;
    raised(&house, id, 100, 60, 50).await;
    sqlx::query("UPDATE cohort SET started_on = '2025-03-30' WHERE id = 2").execute(&house.app.database.writer).await.unwrap();
    let page = keeper.get(&address).await.ok().says("Its limits lie above those of all other years together, 50.0 %");
    let page = page.says("2025 1 (BHAM-26-2) 100 50.0 %").says("2026 1 (BHAM-26-1) 240 91.2 %").says("log-rank test");
    assert_eq!(page.count("table tbody th a[href^='/cohorts/']"), 2);
    let file = keeper.get(&format!("{address}.csv")).await.ok().text();
    assert!(file.contains("BHAM-26-1,2026-04-01,240,,91.25,87.0,94.2,"), "{file}");
    let empty = format!("/species/{}/scorecards", species + 1);
    keeper.get(&empty).await.ok().says("No cohort of this species is in the book yet.");
    keeper.get("/species/999/scorecards").await.is(404);
}

/// Bad eggs found at the opening make the hatch rate; until the last have hatched there is none.
#[tokio::test]
async fn the_hatch_rate_counts_what_was_bad_when_the_sac_was_opened() {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(EWL, 90), (Stage::Egg, 12)]).await;
    post(&house.app, id, &NewLine::lost(april(1), Stage::Egg, 10, LossCause::Infertile)).await.unwrap();
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/cohorts/1/scorecard").await.ok().says("2 eggs may still hatch").says("90 still on their way");
    post(&house.app, id, &NewLine::lost(april(4), Stage::Egg, 2, LossCause::Mould)).await.unwrap();
    // 90 of 102: 88.2 %, Wilson 80.6 to 93.1 %.
    keeper.get("/cohorts/1/scorecard").await.ok().says("hatch rate 88.2 80.6 to 93.1 90 of 102 eggs");
}

#[tokio::test]
async fn a_split_is_counted_with_its_cohort_and_the_published_figure_stands_with_its_genus_only() {
    let (house, mut keeper) = worked().await;
    keeper.submit("/cohorts/1/split", &[("day", "2026-04-12"), ("stage", "i2"), ("quantity", "10"), ("shelf", "1")]).await.sent_to();
    let page = keeper.get("/cohorts/2/scorecard").await.ok().says("It was split off BHAM-26-1").says("219 of 240 young");
    page.lacks("Grammostola vachoni");
    let pulchra = "UPDATE species SET accepted_name = 'Grammostola rustica' WHERE accepted_name = 'Brachypelma hamorii'";
    sqlx::query(pulchra).execute(&house.app.database.writer).await.unwrap();
    // 10.7 % a year: 71.2 % after three years.
    keeper
        .get("/cohorts/1/scorecard")
        .await
        .ok()
        .says("lost 10.7 % a year (Zoologischer Anzeiger 293: 37-45, 2021), which leaves 71.2 % after three years");
}
