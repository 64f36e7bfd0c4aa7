//! A form that is sent after the sign-in has ended.

use super::{GOOD, give_phrase};
use crate::support::{Page, Person, TestHouse, number};

const ROOM: &[(&str, &str)] = &[("name", "Quiet <room>"), ("walk_order", "3")];

/// Opens a form, lets the sign-in end, and sends it.
async fn sent_too_late(house: &TestHouse, lead: &mut Person, path: &str, fields: &[(&str, &str)]) -> Page {
    let (csrf, once) = lead.get("/rooms/new").await.ok().tokens();
    house.set_clock("2026-04-15T13:30:00Z");
    let mut all = fields.to_vec();
    all.extend([("csrf", csrf.as_str()), ("once", once.as_str())]);
    lead.post_raw(path, &all).await
}

async fn sign_in_again(browser: &mut Person, page: &Page, name: &str) -> Page {
    let (csrf, once) = page.tokens();
    let (kept, seal) = (page.value("input[name=kept]"), page.value("input[name=kept_seal]"));
    let fields = [
        ("csrf", csrf.as_str()),
        ("once", once.as_str()),
        ("kept", kept.as_str()),
        ("kept_seal", seal.as_str()),
        ("sign_in_name", name),
        ("pass_phrase", GOOD),
        ("next", "/"),
    ];
    browser.post_raw("/sign-in", &fields).await
}

#[tokio::test]
async fn what_was_typed_is_sent_by_the_same_person_after_signing_in_again() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    give_phrase(&house, lead.id()).await;
    let late = sent_too_late(&house, &mut lead, "/rooms/new", ROOM).await.is(401).says("nothing is saved yet");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM room").await, 0);
    let offered = sign_in_again(&mut lead, &late, "ada").await.ok().says("Quiet <room>").says("walk order");
    assert_eq!(offered.attribute("main form", "action"), "/rooms/new");
    let (csrf, once) = offered.tokens();
    let name = offered.value("input[name=name]");
    let fields = [("csrf", csrf.as_str()), ("once", once.as_str()), ("name", name.as_str()), ("walk_order", "3")];
    assert_eq!(lead.post_raw("/rooms/new", &fields).await.sent_to(), "/rooms");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM room WHERE name = 'Quiet <room>'").await, 1);
}

#[tokio::test]
async fn somebody_else_and_a_forged_form_get_nothing() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    let other = house.person("Bo", "lead").await;
    give_phrase(&house, lead.id()).await;
    give_phrase(&house, other.id()).await;
    let late = sent_too_late(&house, &mut lead, "/rooms/new", ROOM).await.is(401);
    assert_eq!(sign_in_again(&mut lead.clone(), &late, "bo").await.sent_to(), "/");
    let (csrf, once) = lead.get("/sign-in").await.ok().tokens();
    let kept = late.value("input[name=kept]");
    let forged = [
        ("csrf", csrf.as_str()),
        ("once", once.as_str()),
        ("kept", kept.as_str()),
        ("kept_seal", "AAAAAAAAAAAAAAAAAAAAAAAAAAA"),
        ("sign_in_name", "ada"),
        ("pass_phrase", GOOD),
        ("next", "/"),
    ];
    assert_eq!(lead.post_raw("/sign-in", &forged).await.sent_to(), "/");
}

#[tokio::test]
async fn a_wrong_phrase_keeps_it_and_secrets_are_never_kept() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    give_phrase(&house, lead.id()).await;
    let late = sent_too_late(&house, &mut lead, "/rooms/new", ROOM).await.is(401);
    let again = sign_in_again(&mut lead, &late, "adda").await.is(422);
    sign_in_again(&mut lead, &again, "ada").await.ok().says("Send it again?");
    house.set_clock("2026-04-15T12:00:00Z");
    let mut bo = house.person("Bo", "lead").await;
    sent_too_late(&house, &mut bo, "/account/pin", &[("current", GOOD), ("pin", "730184")]).await.is(303);
}

#[tokio::test]
async fn after_signing_out_a_form_is_not_kept() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    let mut tab = lead.clone();
    lead.submit_at("/account", "/sign-out", &[]).await.sent_to();
    let fields = [("csrf", "x"), ("once", "AAAAAAAAAAAAAAAAAAAAAAAAAAA"), ("name", "Quiet room"), ("walk_order", "3")];
    tab.post_raw("/rooms/new", &fields).await.is(303);
}
