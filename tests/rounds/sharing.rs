//! Sharing the work out.

use super::stock::{CALM, RISKY, animal, cohort, house, open_duty, plan};
use crate::support::number;

#[tokio::test]
async fn a_keeper_takes_a_rack_within_their_clearance() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    animal(&house, RISKY, 2).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 1).await;
    bo.get("/round").await.ok().says("Quiet room · B").says("need a clearance that you do not hold");
    bo.submit_at("/round", "/round/racks/1/take", &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NOT NULL AND clearance > 1").await, 0);
    assert!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NOT NULL").await > 2);
    bo.get("/round").await.ok().says("Left out: ").says("needs clearance 2");
}

#[tokio::test]
async fn the_lead_gives_a_rack_and_sees_why_nobody_has_the_rest() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    let risky = animal(&house, RISKY, 2).await;
    cohort(&house, CALM, 40).await;
    plan(&house).await;
    let mut lead = house.person("Ada", "lead").await;
    let bo = house.keeper("Bo", 1).await.id().to_string();
    lead.submit_at("/today", "/today/racks/1/assign", &[("member", &bo)]).await.sent_to();
    lead.get("/today").await.ok().says("Left out: ").says("needs clearance 2: nobody holds it today");
    let feed = open_duty(&house, risky, "feed").await.unwrap();
    lead.submit_at("/today", &format!("/today/duties/{feed}/assign"), &[("member", &bo)]).await.is(403).says("needs clearance 2");
    let check = open_duty(&house, risky, "moult-check").await.unwrap();
    lead.submit_at("/today", &format!("/today/duties/{check}/unassign"), &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE kind = 'moult-check' AND assigned_to IS NULL").await, 1);
    lead.submit_at("/today", &format!("/today/duties/{check}/assign"), &[("member", &bo)]).await.sent_to();
    lead.submit_at("/today", &format!("/today/duties/{check}/assign"), &[("member", "77")]).await.is(422);
}

#[tokio::test]
async fn planning_again_by_hand_leaves_no_trace_when_nothing_changed() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    plan(&house).await;
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    let mut lead = house.person("Ada", "lead").await;
    lead.submit_at("/today", "/today/plan", &[]).await.sent_to();
    lead.get("/today").await.ok().says("nothing has changed");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before);
}

#[tokio::test]
async fn when_a_band_rises_the_duty_leaves_uncleared_hands() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let bo = house.keeper("Bo", 1).await;
    super::stock::give_all(&house, bo.id()).await;
    sqlx::query("INSERT INTO caution (animal_id, level, text, at) VALUES (?, 3, 'strikes', '2026-04-15T11:00:00+00:00')")
        .bind(animal)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    plan(&house).await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NOT NULL AND clearance >= 2").await, 0);
    assert!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NULL AND clearance >= 2").await > 0);
}
