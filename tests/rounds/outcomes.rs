//! What each outcome of a duty brings.

use super::stock::{CALM, animal, cohort, house, open_cohort_duty, open_duty, plan, sign};
use crate::support::number;

#[tokio::test]
async fn a_feed_that_was_taken_is_a_meal_and_the_next_comes_at_its_interval() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing WHERE outcome = 'took' AND day = '2026-04-15'").await, 1);
    assert_eq!(open_duty(&house, animal, "feed").await, None);
    bo.get("/round").await.ok().says("Feed T-1: took it. You can take it back");
}

#[tokio::test]
async fn prey_left_in_comes_out_within_a_day() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "left-in")]).await.sent_to();
    assert_eq!(open_duty(&house, animal, "clear-uneaten").await, None, "not due before its hours");
    house.set_clock("2026-04-16T08:00:00Z");
    let mut bo = house.sign_in(bo.id()).await;
    plan(&house).await;
    let clear = open_duty(&house, animal, "clear-uneaten").await.expect("due after 24 hours");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE kind = 'clear-uneaten' AND due_at = '2026-04-16T12:00:00+00:00'").await, 1);
    sign(&mut bo, clear, &[("outcome", "refused")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing WHERE outcome = 'refused'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing").await, 1);
}

#[tokio::test]
async fn a_moult_stops_feeding_for_the_fast_of_that_size() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let check = open_duty(&house, animal, "moult-check").await.unwrap();
    let page = format!("/round/duties/{check}");
    bo.get(&page).await.ok().says("It has moulted");
    let form = [("day", "2026-04-14"), ("skin_kept", "yes"), ("span_mm", "66"), ("span_method", "measured"), ("note", "")];
    bo.submit_at(&page, &format!("{page}/moult"), &form).await.sent_to();
    assert_eq!(number(&house, "SELECT mm FROM measurement_standing ORDER BY id DESC LIMIT 1").await, 66);
    assert_eq!(open_duty(&house, animal, "feed").await, None, "fasting");
    // 40 to 80 mm: ten days without food.
    house.set_clock("2026-04-23T12:00:00Z");
    plan(&house).await;
    assert_eq!(open_duty(&house, animal, "feed").await, None);
    house.set_clock("2026-04-24T12:00:00Z");
    plan(&house).await;
    assert!(open_duty(&house, animal, "feed").await.is_some());
}

#[tokio::test]
async fn pre_moult_and_moulting_stop_feeding_and_moulting_is_looked_at_daily() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let check = open_duty(&house, animal, "moult-check").await.unwrap();
    sign(&mut bo, check, &[("outcome", "pre-moult")]).await.sent_to();
    assert_eq!(open_duty(&house, animal, "feed").await, None);
    house.set_clock("2026-04-20T12:00:00Z");
    let mut bo = house.sign_in(bo.id()).await;
    plan(&house).await;
    let check = open_duty(&house, animal, "moult-check").await.unwrap();
    bo.get(&format!("/round/duties/{check}")).await.ok().says("Still in pre-moult");
    sign(&mut bo, check, &[("outcome", "moulting")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE kind = 'moulting' AND lifted_at IS NULL").await, 1);
    house.set_clock("2026-04-21T12:00:00Z");
    let mut bo = house.sign_in(bo.id()).await;
    plan(&house).await;
    let check = open_duty(&house, animal, "moult-check").await.expect("daily");
    sign(&mut bo, check, &[("outcome", "normal")]).await.is(303);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE lifted_at IS NULL").await, 0);
}

#[tokio::test]
async fn a_threat_display_holds_opening_for_hours_and_frees_itself() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "threat")]).await.sent_to();
    let held = open_duty(&house, animal, "feed").await.expect("still due, and held");
    sign(&mut bo, held, &[("outcome", "took")]).await.is(409).says("must wait: agitated until 16 Apr 2026, 12:00");
    house.set_clock("2026-04-16T11:59:00Z");
    let mut bo = house.sign_in(bo.id()).await;
    silkward::rounds::plan_day_if_needed(&house.app).await.unwrap();
    sign(&mut bo, held, &[("outcome", "took")]).await.is(409);
    house.set_clock("2026-04-16T12:00:00Z");
    let mut bo = house.sign_in(bo.id()).await;
    assert!(!silkward::rounds::plan_day_if_needed(&house.app).await.unwrap().is_nothing());
    sign(&mut bo, held, &[("outcome", "took")]).await.sent_to();
}

#[tokio::test]
async fn a_death_ends_every_duty_of_the_animal() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "found-dead"), ("cause", "failed-moult")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'dead' AND loss_cause = 'failed-moult'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open' AND animal_id IS NOT NULL").await, 0);
}

#[tokio::test]
async fn what_could_not_be_done_needs_a_reason_and_stands_again_tomorrow() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 0).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "could-not"), ("why", "")]).await.is(422).says("Say why it could not be done.");
    sign(&mut bo, feed, &[("outcome", "could-not"), ("why", "no crickets left")]).await.sent_to();
    plan(&house).await;
    assert_eq!(open_duty(&house, animal, "feed").await, None);
    house.set_clock("2026-04-16T06:00:00Z");
    plan(&house).await;
    assert!(open_duty(&house, animal, "feed").await.is_some());
}

#[tokio::test]
async fn a_cohort_is_fed_as_a_group_and_its_figures_go_to_the_ledger() {
    let house = house().await;
    let cohort = cohort(&house, CALM, 50).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 0).await;
    let feed = open_cohort_duty(&house, cohort, "feed").await.unwrap();
    let page = format!("/round/duties/{feed}");
    let mut figures = vec![
        ("took", "40"),
        ("refused", "5"),
        ("left_in", "4"),
        ("prey", ""),
        ("stage", "i2"),
        ("dead", "2"),
        ("cause", "unknown"),
        ("moulted", "3"),
    ];
    let again = bo.submit_at(&page, &format!("{page}/figures"), &figures).await.is(422).says("50 are alive, but the figures add up to 51.");
    assert_eq!(again.value("#took"), "40");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    figures[0] = ("took", "39");
    bo.submit_at(&page, &format!("{page}/figures"), &figures).await.sent_to();
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'lost'").await, 2);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'i3'").await, 3);
    assert_eq!(number(&house, "SELECT took * 10000 + refused * 100 + left_in FROM cohort_meal_standing").await, 390504);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM ledger_line WHERE signoff_id = 1").await, 2);
}

#[tokio::test]
async fn a_count_writes_the_difference_and_deaths_leave_the_duty_standing() {
    let house = house().await;
    let cohort = cohort(&house, CALM, 50).await;
    house.set_clock("2026-06-15T12:00:00Z");
    plan(&house).await;
    let mut bo = house.keeper("Bo", 0).await;
    let count = open_cohort_duty(&house, cohort, "cohort-count").await.unwrap();
    sign(&mut bo, count, &[("outcome", "found-dead"), ("cause", "unknown"), ("stage", "i2"), ("quantity", "1")]).await.sent_to();
    let count = open_cohort_duty(&house, cohort, "cohort-count").await.expect("a death found does not count the cohort");
    let page = format!("/round/duties/{count}");
    let form = [("stage", "i2"), ("counted", "44"), ("stage", "i3"), ("counted", "2")];
    bo.submit_at(&page, &format!("{page}/count"), &form).await.sent_to();
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'i2'").await, 44);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'variance'").await, 3);
    assert_eq!(open_cohort_duty(&house, cohort, "cohort-count").await, None);
}
