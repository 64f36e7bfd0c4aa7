//! Planning the day from the book.

use silkward::rounds::plan_day_if_needed;

use super::stock::{CALM, RISKY, animal, cohort, house, open_duty, plan};
use crate::support::number;

#[tokio::test]
async fn planning_twice_changes_nothing() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    animal(&house, RISKY, 1).await;
    cohort(&house, CALM, 100).await;
    let first = plan(&house).await;
    assert!(first.opened > 5, "{first}");
    assert!(plan(&house).await.is_nothing());
}

#[tokio::test]
async fn overdue_duties_carry_over_and_never_double() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    for day in 16..30 {
        house.set_clock(&format!("2026-04-{day}T06:00:00Z"));
        plan(&house).await;
    }
    assert_eq!(open_duty(&house, animal, "feed").await, Some(feed));
    assert_eq!(number(&house, "SELECT MAX(n) FROM (SELECT COUNT(*) AS n FROM duty GROUP BY animal_id, kind)").await, 1);
}

#[tokio::test]
async fn the_day_is_planned_once_and_leaves_one_row_in_the_trail() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    assert!(!plan_day_if_needed(&house.app).await.unwrap().is_nothing());
    assert!(plan_day_if_needed(&house.app).await.unwrap().is_nothing());
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before + 1);
    house.set_clock("2026-04-16T12:00:00Z");
    plan_day_if_needed(&house.app).await.unwrap();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before + 2);
}

#[tokio::test]
async fn a_site_day_begins_at_its_own_midnight_over_the_clock_change() {
    // Berlin put its clocks forward on 29 March 2026, New York back on 1 November 2026.
    for (zone, last_of_day, first_of_next) in [
        ("Europe/Berlin", "2026-03-29T21:59:59Z", "2026-03-29T22:00:00Z"),
        ("America/New_York", "2026-11-02T04:59:59Z", "2026-11-02T05:00:00Z"),
    ] {
        let house = house().await;
        sqlx::query("UPDATE site SET zone = ?").bind(zone).execute(&house.app.database.writer).await.unwrap();
        house.app.refresh_site().await.unwrap();
        sqlx::query(
            "INSERT INTO sac (species_id, laid_on, pulled_on, incubation, created_at)
             VALUES (1, '2026-03-01', '2026-03-28', 'pulled', '2026-03-28T08:00:00+00:00')",
        )
        .execute(&house.app.database.writer)
        .await
        .unwrap();
        house.set_clock(last_of_day);
        plan_day_if_needed(&house.app).await.unwrap();
        let today = house.app.today();
        assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE kind = 'sac-check'").await, 1, "{zone}");
        assert!(plan_day_if_needed(&house.app).await.unwrap().is_nothing(), "{zone}");
        house.set_clock(first_of_next);
        assert_eq!(house.app.today(), today.succ_opt().unwrap(), "{zone}");
        plan_day_if_needed(&house.app).await.unwrap();
        // Not done yesterday: the same duty stands on, not a second one.
        assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE kind = 'sac-check'").await, 1, "{zone}");
    }
}

#[tokio::test]
async fn a_large_house_is_planned_in_well_under_a_second() {
    let house = house().await;
    for number in 0..130 {
        animal(&house, if number % 3 == 0 { RISKY } else { CALM }, 1 + number % 3).await;
    }
    for _ in 0..10 {
        cohort(&house, CALM, 100).await;
    }
    let start = std::time::Instant::now();
    plan(&house).await;
    let first = start.elapsed();
    let start = std::time::Instant::now();
    assert!(plan(&house).await.is_nothing());
    println!("first plan {first:?}, second {:?}", start.elapsed());
    assert!(first.as_millis() < 1000, "{first:?}");
}
