//! Holds that people set and lift by hand.

use silkward::handling::model::HoldSubject;
use silkward::handling::store;
use silkward::house::audit::Change;
use silkward::house::ids::AnimalId;
use silkward::reckoning::words::{Exposure, HoldKind};

use super::stock::{CALM, animal, cohort, duty, house, plan};
use crate::support::{TestHouse, number};

async fn held(house: &TestHouse, animal: AnimalId, kind: &str) -> Option<String> {
    let duty = duty(house, animal, kind).await;
    sqlx::query_scalar("SELECT held FROM duty WHERE id = ?").bind(duty).fetch_one(&house.app.database.writer).await.unwrap()
}

#[tokio::test]
async fn an_agitated_animal_is_left_closed_until_a_lead_lifts_it() {
    let house = house().await;
    let id = animal(&house, CALM).await;
    plan(&house).await;
    let mut bo = house.person("Bo", "keeper").await;
    let path = format!("/handling/holds/new?animal={id}");
    let there = bo.submit(&path, &[("kind", "agitated"), ("last_day", ""), ("reason", "raised its front legs")]).await.sent_to();
    assert_eq!(there, format!("/animals/{id}"));
    assert!(held(&house, id, "feed").await.unwrap().contains("agitated until 16 Apr 2026, 12:00"));
    assert!(held(&house, id, "rehouse").await.unwrap().contains("agitated until 18 Apr 2026, 12:00"));
    bo.get("/handling").await.ok().says("raised its front legs").says("16 Apr 2026, 12:00").lacks("Lift");
    bo.get("/handling/holds/1/lift").await.is(403);
    bo.submit_at("/handling", "/handling/holds/1/lift", &[("why", "calm")]).await.is(403);
    let mut lead = house.person("Ada", "lead").await;
    lead.submit("/handling/holds/1/lift", &[("why", "")]).await.is(422);
    lead.submit("/handling/holds/1/lift", &[("why", "calm again")]).await.sent_to();
    assert_eq!(held(&house, id, "feed").await, None);
    assert!(held(&house, id, "rehouse").await.is_some());
    lead.submit("/handling/holds/1/lift", &[("why", "calm again")]).await.is(409);
    lead.get("/handling/holds/99/lift").await.is(404);
}

#[tokio::test]
async fn a_quarantine_stops_hands_until_its_last_day_is_over_and_feeding_goes_on() {
    let house = house().await;
    let id = animal(&house, CALM).await;
    plan(&house).await;
    let mut bo = house.person("Bo", "keeper").await;
    let path = format!("/handling/holds/new?animal={id}");
    bo.submit(&path, &[("kind", "quarantine"), ("last_day", "2026-05-15"), ("reason", "mites seen")]).await.sent_to();
    assert_eq!(held(&house, id, "feed").await, None);
    assert!(held(&house, id, "rehouse").await.unwrap().contains("quarantine until 16 May 2026, 00:00"));
    let ends: String = sqlx::query_scalar("SELECT until_at FROM hold").fetch_one(&house.app.database.writer).await.unwrap();
    assert!(ends.starts_with("2026-05-16T00:00:00"), "{ends}");
    house.set_clock("2026-05-16T00:00:00Z");
    let mut db = house.app.read().await.unwrap();
    assert!(store::holds_of_animal(&mut db, id, house.app.now()).await.unwrap().is_empty());
}

#[tokio::test]
async fn cohorts_are_held_too() {
    let house = house().await;
    let id = cohort(&house, CALM).await;
    let mut bo = house.person("Bo", "keeper").await;
    let path = format!("/handling/holds/new?cohort={id}");
    let there = bo.submit(&path, &[("kind", "quarantine"), ("last_day", "2026-05-15"), ("reason", "new here")]).await.sent_to();
    assert_eq!(there, format!("/cohorts/{id}"));
    let mut db = house.app.read().await.unwrap();
    let holds = store::holds_of_cohort(&mut db, id, house.app.now()).await.unwrap();
    assert_eq!((holds[0].kind, holds[0].blocks), (HoldKind::Quarantine, Exposure::HandsIn));
}

#[tokio::test]
async fn bad_holds_are_named_and_kept_on_the_page() {
    let house = house().await;
    let id = animal(&house, CALM).await;
    let mut bo = house.person("Bo", "keeper").await;
    let path = format!("/handling/holds/new?animal={id}");
    for (kind, last_day, reason, wrong) in [
        ("", "", "mites", "kind"),
        ("moulting", "", "mites", "kind"),
        ("quarantine", "", "mites", "last_day"),
        ("quarantine", "2026-04-14", "mites", "last_day"),
        ("quarantine", "2126-04-14", "mites", "last_day"),
        ("agitated", "", "", "reason"),
        ("agitated", "", "two\nlines", "reason"),
        ("agitated", "", "bell\u{7}", "reason"),
    ] {
        let again = bo.submit(&path, &[("kind", kind), ("last_day", last_day), ("reason", reason)]).await.is(422);
        assert!(again.text().contains(&format!("{wrong}-error")), "{kind} {last_day} {reason}");
        assert_eq!(again.value("#last_day"), last_day);
    }
    for nowhere in ["", "?animal=99", "?cohort=99", "?animal=1&cohort=1"] {
        bo.get(&format!("/handling/holds/new{nowhere}")).await.is(404);
    }
    house.person("Di", "counter").await.get(&path).await.is(403);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold").await, 0);
}

#[tokio::test]
async fn holds_of_a_kind_are_lifted_together() {
    let house = house().await;
    let (first, second) = (animal(&house, CALM).await, animal(&house, CALM).await);
    let mut write = house.app.write(None).await.unwrap();
    let site = house.app.site();
    for id in [first, second] {
        store::hold_agitated(&mut write, HoldSubject::Animal(id), &site, None).await.unwrap();
    }
    store::lift_holds(&mut write, HoldSubject::Animal(first), HoldKind::Moulting).await.unwrap();
    assert_eq!(store::standing_holds(write.db(), house.app.now()).await.unwrap().len(), 4);
    store::lift_holds(&mut write, HoldSubject::Animal(first), HoldKind::Agitated).await.unwrap();
    assert!(store::holds_of_animal(write.db(), first, house.app.now()).await.unwrap().is_empty());
    assert_eq!(store::holds_of_animal(write.db(), second, house.app.now()).await.unwrap().len(), 2);
    write.commit(Change::new("test.lifted", "holds", ""), "/").await.unwrap();
}
