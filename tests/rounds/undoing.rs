//! Taking a sign-off back.

use super::stock::{CALM, animal, cohort, give_all, house, open_cohort_duty, open_duty, plan, sign};
use crate::support::number;

#[tokio::test]
async fn within_ten_minutes_the_same_person_takes_it_back() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.sent_to();
    let mut cy = house.keeper("Cyprian", 2).await;
    cy.submit_at("/round", "/round/sign-offs/1/undo", &[]).await.is(403).says("Only Bo, who signed it");
    house.set_clock("2026-04-15T12:10:00Z");
    bo.get("/round").await.ok().says("Just written");
    bo.submit_at("/round", "/round/sign-offs/1/undo", &[]).await.sent_to();
    let again = open_duty(&house, animal, "feed").await.expect("stands open again");
    assert_ne!(again, feed);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE kind = 'feed' AND state = 'open' AND assigned_to = 1").await, 1);
    bo.submit_at("/round", "/round/sign-offs/1/undo", &[]).await.is(409).says("taken back already");
}

#[tokio::test]
async fn later_than_that_it_stands() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.sent_to();
    house.set_clock("2026-04-15T12:10:01Z");
    bo.get("/round").await.ok().lacks("Just written");
    bo.submit_at("/round", "/round/sign-offs/1/undo", &[]).await.is(409).says("within 10 minutes");
}

#[tokio::test]
async fn a_threat_taken_back_lifts_its_holds_and_a_death_stays() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "threat")]).await.sent_to();
    bo.submit_at("/round", "/round/sign-offs/1/undo", &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE lifted_at IS NULL").await, 0);
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "found-dead"), ("cause", "unknown")]).await.sent_to();
    bo.submit_at("/round", "/round/sign-offs/3/undo", &[]).await.is(409).says("can't be taken back");
}

#[tokio::test]
async fn a_cohorts_figures_are_reversed_in_its_ledger() {
    let house = house().await;
    let cohort = cohort(&house, CALM, 50).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 0).await;
    let feed = open_cohort_duty(&house, cohort, "feed").await.unwrap();
    let page = format!("/round/duties/{feed}");
    let figures = [("took", "45"), ("refused", ""), ("left_in", ""), ("stage", "i2"), ("dead", "2"), ("cause", "mites"), ("moulted", "")];
    bo.submit_at(&page, &format!("{page}/figures"), &figures).await.sent_to();
    bo.submit_at("/round", "/round/sign-offs/1/undo", &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'i2'").await, 50);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM cohort_meal_standing").await, 0);
    assert!(open_cohort_duty(&house, cohort, "feed").await.is_some());
}
