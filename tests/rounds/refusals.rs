//! Above one's clearance nothing is signed and nothing assigned, by any route.

use silkward::house::audit::Change;
use silkward::rounds::store;

use super::stock::{CALM, RISKY, animal, clear, house, open_duty, plan, sign};
use crate::support::number;

#[tokio::test]
async fn a_forged_request_above_clearance_is_refused_with_what_is_missing() {
    let house = house().await;
    let risky = animal(&house, RISKY, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 1).await;
    let feed = open_duty(&house, risky, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.is(403).says("Feed T-1 needs clearance 2, and Bo holds clearance 1.");
    bo.get(&format!("/round/duties/{feed}")).await.ok().says("You can't sign this off.");
    bo.submit_at("/round", &format!("/round/duties/{feed}/take"), &[]).await.is(403);
    let outcome = format!("outcome-{feed}");
    let sent = [("duty", feed.to_string()), (outcome.as_str(), "took".to_owned())];
    let sent: Vec<(&str, &str)> = sent.iter().map(|(name, value)| (*name, value.as_str())).collect();
    bo.submit_at("/round", "/round/racks/1/feed", &sent).await.is(409).says("needs clearance 2");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
}

#[tokio::test]
async fn a_clearance_that_ran_out_with_the_page_open_no_longer_counts() {
    let house = house().await;
    let risky = animal(&house, RISKY, 1).await;
    plan(&house).await;
    let bo = house.keeper("Bo", 0).await;
    clear(&house, bo.id(), 2, "2026-04-15").await;
    let feed = open_duty(&house, risky, "feed").await.unwrap();
    house.set_clock("2026-04-15T23:55:00Z");
    let mut bo = house.sign_in(bo.id()).await;
    let (csrf, once) = bo.get(&format!("/round/duties/{feed}")).await.ok().says("Took it").tokens();
    house.set_clock("2026-04-16T00:00:01Z");
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("outcome", "took")];
    bo.post_raw(&format!("/round/duties/{feed}"), &form).await.is(403).says("the clearance of Bo ran out on 15 Apr 2026");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal").await, 0);
}

#[tokio::test]
async fn a_suspended_person_waits_for_the_review() {
    let house = house().await;
    let risky = animal(&house, RISKY, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 3).await;
    let mut write = house.app.write(Some(bo.id())).await.unwrap();
    let kind = silkward::handling::model::IncidentKind::Bite;
    let incident = silkward::handling::model::NewIncident { kind, animal: Some(risky), cohort: None, duty: None };
    silkward::handling::store::record_incident(&mut write, &incident).await.unwrap();
    write.commit(Change::new("incident.recorded", "incident 1", "bite"), "/").await.unwrap();
    let feed = open_duty(&house, risky, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.is(403).says("rest until a lead has reviewed their incident");
}

#[tokio::test]
async fn a_caution_added_meanwhile_raises_what_is_asked() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 1).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    // Straight into the table, as if nobody had planned again.
    sqlx::query("INSERT INTO caution (animal_id, level, text, at) VALUES (?, 3, 'strikes at the tongs', '2026-04-15T11:00:00+00:00')")
        .bind(animal)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.is(403).says("needs clearance 2");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
}

#[tokio::test]
async fn beneath_the_code_the_database_refuses_too() {
    let house = house().await;
    let risky = animal(&house, RISKY, 1).await;
    plan(&house).await;
    let bo = house.keeper("Bo", 1).await;
    let feed = open_duty(&house, risky, "feed").await.unwrap();
    let writer = &house.app.database.writer;
    let assigned = sqlx::query("UPDATE duty SET assigned_to = ?, assigned_on = '2026-04-15' WHERE id = ?").bind(bo.id()).bind(feed);
    assert!(assigned.execute(writer).await.unwrap_err().to_string().contains("not cleared"));
    let signed = sqlx::query(
        "INSERT INTO signoff (duty_id, member_id, at, day, outcome, clearance, persons)
         VALUES (?, ?, '2026-04-15T12:00:00+00:00', '2026-04-15', 'took', 0, 1)",
    )
    .bind(feed)
    .bind(bo.id());
    assert!(signed.execute(writer).await.unwrap_err().to_string().contains("not cleared"));
}

#[tokio::test]
async fn foreign_ids_and_wrong_outcomes_change_nothing() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    bo.get("/round/duties/999").await.is(404);
    bo.get("/round/duties/feed").await.is(404);
    bo.submit_at("/round", "/round/duties/999", &[("outcome", "took")]).await.is(404);
    sign(&mut bo, feed, &[("outcome", "moulted")]).await.is(422);
    sign(&mut bo, feed, &[("outcome", "undone")]).await.is(422);
    sign(&mut bo, feed, &[("outcome", "nonsense")]).await.is(422).says("Choose one of the list.");
    sign(&mut bo, feed, &[("outcome", "took"), ("surplus", "1")]).await.is(400);
    bo.submit_at("/round", "/round/sign-offs/7/undo", &[]).await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
}

#[tokio::test]
async fn pages_ask_for_their_role() {
    let house = house().await;
    let mut counter = house.person("Di", "counter").await;
    counter.get("/round").await.is(403);
    counter.get("/today").await.is(403);
    assert_eq!(counter.get("/").await.sent_to(), "/handovers");
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/today").await.is(403);
    assert_eq!(keeper.get("/").await.sent_to(), "/round");
    let mut lead = house.person("Ada", "lead").await;
    assert_eq!(lead.get("/").await.sent_to(), "/today");
    lead.get("/today").await.ok();
    let mut visitor = house.visitor();
    assert!(visitor.get("/round").await.sent_to().starts_with("/sign-in"));
}

#[tokio::test]
async fn the_store_itself_asks_for_a_person() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    let mut write = house.app.write(None).await.unwrap();
    let new = silkward::rounds::model::NewSignoff::plain(feed, silkward::rounds::model::Outcome::Took);
    assert!(store::sign_off(&mut write, &new).await.is_err());
}
