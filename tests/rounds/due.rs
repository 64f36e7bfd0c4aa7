//! Why something is due or not, and rules set apart for one animal or cohort.

use silkward::handling::model::HoldSubject;
use silkward::reckoning::planner::ApartKind;
use silkward::rounds::model::apart::NewApart;
use silkward::rounds::store;

use super::stock::{CALM, animal, cohort, give_all, house, open_duty, plan, sign};
use crate::support::number;

#[tokio::test]
async fn the_page_tells_every_rule_with_its_figures_and_the_next_day() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    let cohort = cohort(&house, CALM, 100).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let round = bo.get("/round").await.ok();
    assert!(round.count(&format!("a.why[href='/animals/{animal}/due']")) >= 1);
    let why = bo.get(&format!("/animals/{animal}/due")).await.ok();
    let why = why.says("Why due, or not: T-1").says("Due since 1 Apr 2026").says("No meal on record since 1 April 2026");
    let why = why.says("Not needed: no prey is left in").says("Leg span 60 mm in a box 300 mm long (0.200): a box of 3 spans does.");
    assert_eq!(why.count("section h2"), 6);
    assert!(why.count("section a[href^='/round/duties/']") >= 3);
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.sent_to();
    bo.get(&format!("/animals/{animal}/due")).await.ok().says("Last meal on 15 April 2026").says("Not before 25 Apr 2026");
    bo.get(&format!("/cohorts/{cohort}/due")).await.ok().says("Cohort count").says("Not done yet since 1 April 2026");
    bo.get(&format!("/animals/{animal}")).await.ok().says("Why due, or not");
    bo.get(&format!("/cohorts/{cohort}")).await.ok().says("Why a duty is due, or not");
    for missing in ["/animals/99/due", "/cohorts/99/due", "/breeding/sacs/99/due"] {
        bo.get(missing).await.is(404);
    }
    // What waits for a hold says until which hour.
    let clean = open_duty(&house, animal, "water").await.unwrap();
    sign(&mut bo, clean, &[("outcome", "threat")]).await.sent_to();
    bo.get(&format!("/animals/{animal}/due")).await.ok().says("agitated until 16 Apr 2026, 12:00 (threat display)");
    sqlx::query("UPDATE animal SET shelf_id = NULL, position = NULL, status = 'dead', status_on = '2026-04-15', loss_cause = 'unknown'")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    bo.get(&format!("/animals/{animal}/due")).await.ok().says("no longer in the house");
}

#[tokio::test]
async fn a_lead_sets_a_rule_apart_and_it_ends_by_itself() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut lead = house.person("Ines", "lead").await;
    let mut bo = house.keeper("Bo", 2).await;
    let page = format!("/animals/{animal}/apart");
    let rule = [("kind", "no-feed"), ("until", "2026-04-20"), ("reason", "swollen joint, rests")];
    let there = lead.submit(&page, &rule).await.sent_to();
    lead.get(&there).await.ok().says("not fed until 20 April 2026 (swollen joint, rests, by Ines)").says("1 no longer due");
    assert_eq!(open_duty(&house, animal, "feed").await, None);
    // A keeper sees it, and sets none.
    bo.get(&page).await.ok().says("Not fed until 20 April 2026 (swollen joint, rests, by Ines).").lacks("Set a rule apart");
    bo.submit_at(&format!("/animals/{animal}/moved"), &page, &rule).await.is(403);
    house.set_clock("2026-04-20T12:00:00Z");
    plan(&house).await;
    assert_eq!(open_duty(&house, animal, "feed").await, None, "its last day");
    house.set_clock("2026-04-21T12:00:00Z");
    plan(&house).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    let words: String =
        sqlx::query_scalar("SELECT reason FROM duty WHERE id = ?").bind(feed).fetch_one(&house.app.database.writer).await.unwrap();
    assert!(!words.contains("Ines"), "{words}");
}

#[tokio::test]
async fn a_rule_is_ended_before_its_day_with_a_reason_and_stays_readable() {
    let house = house().await;
    let cohort = cohort(&house, CALM, 100).await;
    plan(&house).await;
    let mut lead = house.person("Ines", "lead").await;
    let page = format!("/cohorts/{cohort}/apart");
    lead.submit(&page, &[("kind", "feed-every"), ("days", "2"), ("until", "2026-05-20"), ("reason", "grow on")]).await.sent_to();
    lead.submit_at(&page, "/apart/1/end", &[("why", " ")]).await.is(422).says("Rules set apart for");
    lead.submit_at(&page, "/apart/1/end", &[("why", "fat enough")]).await.sent_to();
    lead.submit_at(&page, "/apart/1/end", &[("why", "again")]).await.is(409);
    lead.submit_at(&page, "/apart/9/end", &[("why", "again")]).await.is(404);
    lead.get(&page).await.ok().says("Fed every 2 days until 20 May 2026").says("Ended by Ines").says("fat enough");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action IN ('rule.set-apart', 'rule.ended')").await, 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM set_apart").await, 1);
}

#[tokio::test]
async fn no_rule_makes_looks_rarer_lasts_for_ever_or_comes_from_a_keeper() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    let cohort = cohort(&house, CALM, 10).await;
    let mut lead = house.person("Ines", "lead").await;
    let page = format!("/animals/{animal}/apart");
    let wrong: [(&[(&str, &str)], &str); 5] = [
        (&[("kind", "check-every"), ("days", "90"), ("until", "2026-05-01"), ("reason", "busy")], "a rule never makes looks rarer"),
        (&[("kind", "feed-every"), ("days", ""), ("until", "2026-05-01"), ("reason", "thin")], "whole number"),
        (&[("kind", "no-feed"), ("until", "2026-04-01"), ("reason", "thin")], ""),
        (&[("kind", "no-feed"), ("until", "2028-04-01"), ("reason", "thin")], "within a year"),
        (&[("kind", "vacation"), ("until", "2026-05-01"), ("reason", "")], ""),
    ];
    for (fields, says) in wrong {
        lead.submit(&page, fields).await.is(422).says(says);
    }
    let rehouse = [("kind", "no-rehouse"), ("until", "2026-05-01"), ("reason", "busy")];
    lead.submit(&format!("/cohorts/{cohort}/apart"), &rehouse).await.is(422).says("not rehoused for its size");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM set_apart").await, 0);
    // By any other way the book itself refuses.
    let bo = house.keeper("Bo", 2).await;
    let mut write = house.app.write(Some(bo.id())).await.unwrap();
    let until = "2026-05-01".parse().unwrap();
    let new = NewApart { kind: ApartKind::NoFeed, days: None, until, reason: "no time".to_owned() };
    assert!(store::set_apart(&mut write, HoldSubject::Animal(animal), &new).await.is_err());
}
