//! What is done with a cohort as a group: meals, clearing uneaten prey, and taking a sign-off back.

use silkward::cohorts::model::{NewCohortMeal, NewLine};
use silkward::cohorts::store;
use silkward::house::app::App;
use silkward::house::audit::Change;
use silkward::house::ids::{CohortId, SignoffId};
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::LossCause;

use super::stock::{april, cohort, library, post, refusal};
use crate::support::TestHouse;

const COHORT: CohortId = CohortId(1);

/// A house with cohort 1 of 30 second instar, and two sign-offs (1 and 2) of its keeper.
async fn signed() -> TestHouse {
    let house = TestHouse::start().await;
    library(&house.app).await;
    cohort(&house.app, &[(Stage::Instar(2), 30)]).await;
    house.person("Bo", "keeper").await;
    for kind in ["feed", "clear-uneaten"] {
        sqlx::query(
            "INSERT INTO duty (kind, cohort_id, due_on, late_after, seconds, exposure, band, clearance, persons, reason, state, planned_at)
             VALUES (?, 1, '2026-04-02', '2026-04-03', 60, 'open', 0, 0, 1, 'due', 'open', '')",
        )
        .bind(kind)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
        sqlx::query(
            "INSERT INTO signoff (duty_id, member_id, at, day, outcome, clearance, persons)
             VALUES ((SELECT MAX(id) FROM duty), 1, '', '2026-04-02', 'counts', 0, 1)",
        )
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    }
    house
}

fn meal(took: u32, refused: u32, left_in: u32) -> NewCohortMeal {
    NewCohortMeal { day: april(2), prey: "cut cricket".to_owned(), took, refused, left_in, signoff: Some(SignoffId(1)) }
}

async fn fed(app: &App, meal: &NewCohortMeal) {
    let mut write = app.write(None).await.unwrap();
    store::record_meal(&mut write, COHORT, meal).await.unwrap();
    write.commit(Change::new("test.fed", "cohort 1", ""), "/").await.unwrap();
}

async fn cleared(app: &App, took: u32) {
    let mut write = app.write(None).await.unwrap();
    store::clear_left_in(&mut write, COHORT, took, 0, Some(SignoffId(2))).await.unwrap();
    write.commit(Change::new("test.cleared", "cohort 1", ""), "/").await.unwrap();
}

async fn struck(app: &App, signoff: i64) {
    let mut write = app.write(None).await.unwrap();
    store::strike_out(&mut write, SignoffId(signoff)).await.unwrap();
    write.commit(Change::new("test.struck", "cohort 1", ""), "/").await.unwrap();
}

/// Took, refused and left in of every standing meal.
async fn meals(house: &TestHouse) -> Vec<(i64, i64, i64)> {
    let all = sqlx::query_as("SELECT took, refused, left_in FROM cohort_meal_standing ORDER BY id");
    all.fetch_all(&house.app.database.writer).await.unwrap()
}

#[tokio::test]
async fn a_meal_is_no_larger_than_the_cohort() {
    let house = signed().await;
    let mut write = house.app.write(None).await.unwrap();
    let said = refusal(store::record_meal(&mut write, COHORT, &meal(20, 6, 5)).await);
    assert_eq!(said, "Only 30 are alive, but the figures add up to 31.");
}

#[tokio::test]
async fn clearing_corrects_the_meal_and_taking_the_clearing_back_brings_it_back() {
    let house = signed().await;
    fed(&house.app, &meal(20, 4, 6)).await;
    cleared(&house.app, 2).await;
    assert_eq!(meals(&house).await, [(22, 8, 0)]);
    struck(&house.app, 2).await;
    assert_eq!(meals(&house).await, [(20, 4, 6)]);
    struck(&house.app, 1).await;
    assert_eq!(meals(&house).await, []);
}

#[tokio::test]
async fn taking_a_meal_back_takes_its_clearing_along() {
    let house = signed().await;
    fed(&house.app, &meal(20, 4, 6)).await;
    cleared(&house.app, 6).await;
    struck(&house.app, 1).await;
    assert_eq!(meals(&house).await, []);
}

#[tokio::test]
async fn taking_a_sign_off_back_reverses_its_lines_once() {
    let house = signed().await;
    let by = |line: NewLine| line.by_signoff(Some(SignoffId(1)));
    post(&house.app, COHORT, &by(NewLine::moulted(april(3), Stage::Instar(2), Stage::Instar(3), 10))).await.unwrap();
    post(&house.app, COHORT, &by(NewLine::lost(april(3), Stage::Instar(3), 1, LossCause::FailedMoult))).await.unwrap();
    struck(&house.app, 1).await;
    struck(&house.app, 1).await;
    let mut db = house.app.read().await.unwrap();
    let standing = store::standing(&mut db, COHORT).await.unwrap();
    assert_eq!(standing.iter().map(|count| (count.stage, count.quantity)).collect::<Vec<_>>(), [(Stage::Instar(2), 30)]);
    assert_eq!(store::lines(&mut db, COHORT).await.unwrap().len(), 5);
}
