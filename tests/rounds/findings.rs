//! What is found at a stop besides its duty: one tap from the stop, and taken back within ten minutes.

use super::stock::{CALM, animal, cohort, give_all, house, open_cohort_duty, open_duty, plan};
use crate::support::number;

#[tokio::test]
async fn a_moult_is_noted_at_a_feed_which_is_then_not_due() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    let stop = format!("/round/duties/{feed}");
    bo.submit_at(&stop, &format!("{stop}/found"), &[("what", "moulted-kept")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM moult_standing WHERE day = '2026-04-15' AND skin_kept = 1").await, 1);
    assert_eq!(open_duty(&house, animal, "feed").await, None, "nothing is offered to a fresh skin");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE kind = 'just-moulted' AND lifted_at IS NULL").await, 1);
    // It was due to be looked at, and has been.
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff WHERE outcome = 'moulted'").await, 1);
    bo.get("/round").await.ok().says("It is not fed until the new skin is hard");
}

#[tokio::test]
async fn mites_make_a_rehouse_due_at_once_and_taking_back_ends_it() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    let stop = format!("/round/duties/{feed}");
    assert_eq!(open_duty(&house, animal, "rehouse").await, None);
    let back = bo.submit_at(&stop, &format!("{stop}/found"), &[("what", "mites"), ("text", "on the lid")]).await.sent_to();
    assert_eq!(back, format!("/round#duty-{feed}"), "the stop's own duty is still to be done");
    assert!(open_duty(&house, animal, "rehouse").await.is_some());
    let mut cy = house.keeper("Cyprian", 2).await;
    cy.submit_at("/round", "/round/findings/1/undo", &[]).await.is(403).says("Only Bo");
    bo.get("/round").await.ok().says("Mites at T-1: on the lid");
    bo.submit_at("/round", "/round/findings/1/undo", &[]).await.sent_to();
    assert_eq!(open_duty(&house, animal, "rehouse").await, None);
    bo.submit_at("/round", "/round/findings/1/undo", &[]).await.is(409).says("taken back by Bo already");
    assert!(sqlx::query("DELETE FROM finding").execute(&house.app.database.writer).await.is_err());
}

#[tokio::test]
async fn a_note_needs_words_and_what_was_typed_stays() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    let stop = format!("/round/duties/{feed}");
    let found = format!("{stop}/found");
    bo.submit_at(&stop, &found, &[("what", "note")]).await.is(422).says("Write what there is to note.");
    let long = "x".repeat(401);
    let again = bo.submit_at(&stop, &found, &[("what", "photo"), ("text", &long)]).await.is(422).says("at most 400 fit");
    assert_eq!(again.value("#text"), long);
    bo.submit_at(&stop, &found, &[("what", "dancing")]).await.is(422);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM finding").await, 0);
    bo.submit_at(&stop, &found, &[("what", "note"), ("text", "sits in the open by day")]).await.sent_to();
    bo.get(&format!("/animals/{animal}")).await.ok().says("Noted on the round. sits in the open by day");
}

#[tokio::test]
async fn later_than_ten_minutes_it_is_dealt_with_instead() {
    let house = house().await;
    let cohort = cohort(&house, CALM, 20).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let feed = open_cohort_duty(&house, cohort, "feed").await.unwrap();
    let stop = format!("/round/duties/{feed}");
    let found = format!("{stop}/found");
    bo.submit_at(&stop, &found, &[("what", "needs-rehouse")]).await.is(422).says("Only a tagged animal");
    bo.submit_at(&stop, &found, &[("what", "moulted")]).await.is(422).says("how many of this cohort moulted");
    bo.submit_at(&stop, &found, &[("what", "mould")]).await.sent_to();
    house.set_clock("2026-04-15T12:10:01Z");
    bo.submit_at("/round", "/round/findings/1/undo", &[]).await.is(409).says("within 10 minutes");
    bo.submit_at("/round", "/round/findings/1/dealt-with", &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM finding_now WHERE says = 'dealt-with'").await, 1);
}

#[tokio::test]
async fn the_code_on_a_vial_leads_to_its_stop_for_whoever_has_it() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    let cohort = cohort(&house, CALM, 20).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let mut cy = house.keeper("Cyprian", 0).await;
    give_all(&house, bo.id()).await;
    assert_eq!(bo.get("/t/C-1").await.sent_to(), "/round/stops/C-1");
    assert_eq!(cy.get("/t/C-1").await.sent_to(), format!("/cohorts/{cohort}"), "not on their round");
    assert_eq!(bo.get("/t/T-1").await.sent_to(), "/round/stops/T-1");
    let stop = bo.get("/round/stops/T-1").await.ok().says("Feed").says("Moult check").says("Took it");
    assert_eq!(
        stop.count("article.duty"),
        number(&house, "SELECT COUNT(*) FROM duty WHERE animal_id = 1 AND state = 'open'").await as usize
    );
    cy.get("/round/stops/T-1").await.ok().says("is on the round of Bo").says("needs clearance 1, and Cyprian holds none");
}
