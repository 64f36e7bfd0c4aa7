//! Incidents: one tap records, a review ends the suspension.

use super::stock::{CALM, RISKY, animal, assessor, clearance, cohort, duty, granted, house, level, plan, refused, today};
use crate::support::{Person, TestHouse, number};

/// A keeper with clearance 3, and the assessor who granted it.
async fn cleared_keeper(house: &TestHouse) -> (Person, Person) {
    let olga = assessor(house).await;
    let bo = house.person("Bo", "keeper").await;
    granted(house, olga.id(), &clearance(bo.id(), 3, "")).await;
    (bo, olga)
}

#[tokio::test]
async fn one_tap_records_it_and_the_page_begins_with_whom_to_call() {
    let house = house().await;
    let (mut bo, _) = cleared_keeper(&house).await;
    let id = animal(&house, RISKY).await;
    plan(&house).await;
    let rehouse = duty(&house, id, "rehouse").await;
    let path = format!("/handling/incidents/new?animal={id}&duty={rehouse}");
    assert_eq!(bo.get(&path).await.ok().count(".deeds button[name=kind]"), 4);
    let there = bo.submit(&path, &[("kind", "bite")]).await.sent_to();
    let page = bo.get(&there).await.ok();
    let main = page.words().split("Sign out").next().unwrap().to_owned();
    let first = page.text().split("<main").nth(1).unwrap().split('<').find(|part| part.starts_with("h1>")).unwrap().to_owned();
    assert_eq!(first, "h1>Call your local emergency number, poison centre or a clinician. This is not medical advice.");
    assert!(main.contains("This house has entered no emergency numbers."));
    page.says("Poecilotheria regalis")
        .says("medically significant")
        .says("watch for at least 24 to 72 hours")
        .says("trouble breathing".replacen('t', "T", 1).as_str())
        .says("Fuchs et al. 2014")
        .says("Hauke & Herzig 2021")
        .says("Medically significant venom: cramps may come hours after a bite.")
        .lacks("You are welcome");
    let recorded: (String, i64, i64, i64) =
        sqlx::query_as("SELECT kind, member_id, animal_id, duty_id FROM incident").fetch_one(&house.app.database.writer).await.unwrap();
    assert_eq!(recorded, ("bite".to_owned(), bo.id().0, id.0, rehouse.0));
}

#[tokio::test]
async fn the_suspension_takes_effect_at_the_very_next_request() {
    let house = house().await;
    let (mut bo, mut olga) = cleared_keeper(&house).await;
    let cy = house.person("Cyprian", "keeper").await;
    let id = animal(&house, RISKY).await;
    plan(&house).await;
    let feed = duty(&house, id, "feed").await;
    sqlx::query("UPDATE duty SET assigned_to = ?, assigned_on = ? WHERE id = ?")
        .bind(bo.id())
        .bind(today())
        .bind(feed)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let grant = format!("/handling/people/{}/grant", cy.id());
    let (csrf, once) = bo.get(&grant).await.ok().tokens();
    bo.submit("/handling/incidents/new", &[("kind", "near-miss")]).await.sent_to();
    assert_eq!(level(&house, bo.id()).await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NOT NULL").await, 0);
    // The grant page was open before; the form is refused all the same.
    let fields = [("csrf", csrf.as_str()), ("once", once.as_str()), ("level", "1"), ("evidence", "seen"), ("valid_until", "2026-06-01")];
    bo.post_raw(&grant, &fields).await.is(422);
    let signed = sqlx::query("INSERT INTO signoff (duty_id, member_id, at, day, outcome, clearance, persons) VALUES (?, ?, '2026-04-15T12:00:00+00:00', '2026-04-15', 'took', 0, 1)")
        .bind(feed)
        .bind(bo.id())
        .execute(&house.app.database.writer)
        .await;
    assert!(signed.unwrap_err().to_string().contains("not cleared"));
    // A new clearance does not lift it either.
    granted(&house, olga.id(), &clearance(bo.id(), 2, "")).await;
    assert_eq!(level(&house, bo.id()).await, 0);
    olga.get("/handling").await.ok().says("Incidents that wait for a review").says("rests until a review");
}

#[tokio::test]
async fn a_lead_who_is_somebody_else_reviews_it() {
    let house = house().await;
    let (mut bo, mut olga) = cleared_keeper(&house).await;
    bo.submit("/handling/incidents/new", &[("kind", "setae")]).await.sent_to();
    bo.get("/handling/incidents/1").await.ok().lacks("Review it and let").says("see an eye clinic on the same day");
    bo.submit_at("/handling/incidents/1", "/handling/incidents/1/review", &[("review", "all well")]).await.is(403);
    let page = olga.submit_at("/handling/incidents/1", "/handling/incidents/1/review", &[("review", " ")]).await.is(422);
    assert!(page.text().contains("review-error"));
    olga.submit_at("/handling/incidents/1", "/handling/incidents/1/review", &[("review", "goggles from now on")]).await.sent_to();
    assert_eq!(level(&house, bo.id()).await, 3);
    olga.get("/handling/incidents/1").await.ok().says("Reviewed by Olga").says("review : goggles from now on");
    olga.get("/handling").await.ok().lacks("wait for a review");
    olga.submit_at("/handling/incidents/1", "/handling/incidents/1/review", &[("review", "again")]).await.is(409);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM incident_note").await, 1);
}

#[tokio::test]
async fn nobody_reviews_their_own_not_even_an_owner() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    olga.submit("/handling/incidents/new", &[("kind", "bite")]).await.sent_to();
    olga.submit_at("/handling/incidents/1", "/handling/incidents/1/review", &[("review", "nothing")]).await.is(403);
    assert_eq!(level(&house, olga.id()).await, 0);
    refused(&house, "UPDATE suspension SET lifted_at = '2026-04-15T12:00:00+00:00', lifted_by = 1").await;
    // A keeper, or a lead without a note, can't lift it by straight SQL either.
    house.person("Bo", "keeper").await;
    house.person("Ada", "lead").await;
    assert!(
        refused(&house, "UPDATE suspension SET lifted_at = '2026-04-15T12:00:00+00:00', lifted_by = 2")
            .await
            .contains("a lead or an owner")
    );
    assert!(refused(&house, "UPDATE suspension SET lifted_at = '2026-04-15T12:00:00+00:00', lifted_by = 3").await.contains("with a note"));
    refused(&house, "UPDATE suspension SET member_id = 2").await;
    refused(&house, "DELETE FROM suspension").await;
    assert_eq!(level(&house, olga.id()).await, 0);
}

#[tokio::test]
async fn two_incidents_need_two_reviews() {
    let house = house().await;
    let (mut bo, mut olga) = cleared_keeper(&house).await;
    for kind in ["escape", "near-miss"] {
        bo.submit("/handling/incidents/new", &[("kind", kind)]).await.sent_to();
    }
    olga.submit_at("/handling/incidents/1", "/handling/incidents/1/review", &[("review", "one")]).await.sent_to();
    assert_eq!(level(&house, bo.id()).await, 0);
    olga.submit_at("/handling/incidents/2", "/handling/incidents/2/review", &[("review", "two")]).await.sent_to();
    assert_eq!(level(&house, bo.id()).await, 3);
}

#[tokio::test]
async fn notes_are_added_by_topic_and_never_changed() {
    let house = house().await;
    let mut bo = house.person("Bo", "keeper").await;
    bo.submit("/handling/incidents/new", &[("kind", "bite")]).await.sent_to();
    let notes = "/handling/incidents/1/notes";
    let note = [("topic", "symptoms"), ("time", "14:05"), ("text", "pain in the hand\nno swelling")];
    bo.submit_at("/handling/incidents/1", notes, &note).await.sent_to();
    bo.get("/handling/incidents/1").await.ok().says("symptoms : At 14:05: pain in the hand no swelling");
    let long = "x".repeat(1901);
    for (topic, time, text, wrong) in [
        ("review", "", "mine", "topic"),
        ("weather", "", "wet", "topic"),
        ("called", "25:00", "the poison centre", "time"),
        ("called", "now", "the poison centre", "time"),
        ("called", "", "", "text"),
        ("called", "", long.as_str(), "text"),
        ("called", "", "a\u{0}b", "text"),
    ] {
        let again = bo.submit_at("/handling/incidents/1", notes, &[("topic", topic), ("time", time), ("text", text)]).await.is(422);
        assert!(again.text().contains(&format!("{wrong}-error")), "{topic} {time}");
        assert_eq!(again.value("#time"), time);
    }
    refused(&house, "UPDATE incident_note SET text = 'nothing'").await;
    refused(&house, "DELETE FROM incident_note").await;
    refused(&house, "UPDATE incident SET kind = 'near-miss'").await;
    refused(&house, "DELETE FROM incident").await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM incident_note").await, 1);
}

#[tokio::test]
async fn an_incident_names_only_what_is_there() {
    let house = house().await;
    let mut bo = house.person("Bo", "keeper").await;
    let (first, second) = (animal(&house, CALM).await, animal(&house, CALM).await);
    let batch = cohort(&house, RISKY).await;
    plan(&house).await;
    let feed = duty(&house, first, "feed").await;
    for nowhere in [
        "?animal=99".to_owned(),
        "?cohort=99".to_owned(),
        "?duty=99".to_owned(),
        format!("?animal={first}&cohort={batch}"),
        format!("?animal={second}&duty={feed}"),
        format!("?cohort={batch}&duty={feed}"),
    ] {
        bo.get(&format!("/handling/incidents/new{nowhere}")).await.is(404);
        bo.submit_at("/handling", &format!("/handling/incidents/new{nowhere}"), &[("kind", "bite")]).await.is(404);
    }
    for bad in ["", "sting", "BITE"] {
        bo.submit("/handling/incidents/new", &[("kind", bad)]).await.is(422);
    }
    bo.get("/handling/incidents/99").await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM incident").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM suspension").await, 0);
    let there = bo.submit(&format!("/handling/incidents/new?cohort={batch}"), &[("kind", "escape")]).await.sent_to();
    bo.get(&there).await.ok().says("Close the door of the room.").says("Poecilotheria regalis").says("Cohort C-1");
    let there = bo.submit(&format!("/handling/incidents/new?animal={first}"), &[("kind", "escape")]).await.sent_to();
    assert_eq!(bo.get(&there).await.ok().count(&format!("main a[href='/animals/{first}/left']")), 1);
}

#[tokio::test]
async fn a_double_tap_records_one_incident_and_anyone_signed_in_may() {
    let house = house().await;
    let mut counter = house.person("Di", "counter").await;
    let (csrf, once) = counter.get("/handling/incidents/new").await.ok().tokens();
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("kind", "setae")];
    let first = counter.post_raw("/handling/incidents/new", &form).await.sent_to();
    assert_eq!(counter.post_raw("/handling/incidents/new", &form).await.sent_to(), first);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM incident").await, 1);
    counter.get("/handling/incidents").await.ok().says("setae in eye or skin").says("waits");
    let mut visitor = house.visitor();
    visitor.get("/handling/incidents/1").await.is(303);
    let forged = [("csrf", "x"), ("once", "0123456789abcdef"), ("kind", "bite")];
    visitor.post_raw("/handling/incidents/new", &forged).await.is(303);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM incident").await, 1);
}

#[tokio::test]
async fn the_page_gives_the_houses_numbers_when_there_are_some() {
    let house = house().await;
    let mut owner = house.person("Olga", "owner").await;
    owner.get("/handling/emergency").await.ok().says("Enter the numbers now");
    sqlx::query("UPDATE site SET emergency = 'Ambulance 000-1' || char(10) || 'Poison centre 000-2'")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    house.app.refresh_site().await.unwrap();
    let page =
        owner.get("/handling/emergency").await.ok().says("Ambulance 000-1").says("Poison centre 000-2").says("When an animal is out");
    page.lacks("has entered no emergency numbers");
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/handling").await.ok().says("What to do in an emergency");
    keeper.submit("/handling/incidents/new", &[("kind", "near-miss")]).await.sent_to();
    keeper.get("/handling/incidents/1").await.ok().says("Poison centre 000-2");
}
