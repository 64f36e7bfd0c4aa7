//! A member's own account.

use axum::body::Body;
use axum::http::{Request, header};

use super::{GOOD, OTHER, give_phrase};
use crate::support::{TestHouse, URL, number};

#[tokio::test]
async fn a_new_phrase_needs_the_old_one_and_ends_the_other_sign_ins() {
    let house = TestHouse::start().await;
    let mut here = house.person("Bo", "keeper").await;
    give_phrase(&house, here.id()).await;
    let mut elsewhere = house.sign_in(here.id()).await;
    let page = "/account/pass-phrase";
    let wrong = [("current", "not the one at all"), ("pass_phrase", OTHER), ("again", OTHER)];
    here.submit(page, &wrong).await.is(422).says("This is not your pass phrase now.");
    let unlike = [("current", GOOD), ("pass_phrase", OTHER), ("again", GOOD)];
    here.submit(page, &unlike).await.is(422).says("The two are not the same.");
    let short = [("current", GOOD), ("pass_phrase", "short"), ("again", "short")];
    here.submit(page, &short).await.is(422).says("This has 5 characters; choose from 15 to 256.");
    elsewhere.get("/account").await.ok();
    let mut planted = here.clone();
    here.submit(page, &[("current", GOOD), ("pass_phrase", OTHER), ("again", OTHER)]).await.sent_to();
    here.get("/account").await.ok().says("Your pass phrase is changed.");
    elsewhere.get("/account").await.is(303);
    planted.get("/account").await.is(303);
    let old = [("sign_in_name", "bo"), ("pass_phrase", GOOD), ("next", "/")];
    house.visitor().submit("/sign-in", &old).await.is(422);
    let new = [("sign_in_name", "bo"), ("pass_phrase", OTHER), ("next", "/")];
    house.visitor().submit("/sign-in", &new).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, 1);
}

#[tokio::test]
async fn guesses_at_the_old_phrase_are_counted() {
    let house = TestHouse::start().await;
    let mut bo = house.person("Bo", "keeper").await;
    give_phrase(&house, bo.id()).await;
    let wrong = [("current", "not the one at all"), ("pass_phrase", OTHER), ("again", OTHER)];
    for _ in 0..10 {
        bo.submit("/account/pass-phrase", &wrong).await.is(422);
    }
    bo.submit("/account/pass-phrase", &wrong).await.is(429);
}

#[tokio::test]
async fn a_pin_is_set_with_the_phrase_and_kept_as_a_hash() {
    let house = TestHouse::start().await;
    let mut bo = house.person("Bo", "keeper").await;
    give_phrase(&house, bo.id()).await;
    bo.get("/account").await.ok().says("not set");
    bo.submit("/account/pin", &[("current", GOOD), ("pin", "123456")]).await.is(422).says("Everybody tries this one.");
    bo.submit("/account/pin", &[("current", "something else entirely"), ("pin", "730184")]).await.is(422);
    bo.submit("/account/pin", &[("current", GOOD), ("pin", "730184")]).await.sent_to();
    bo.get("/account").await.ok().says("Change the PIN");
    assert!(silkward::staff::passphrase::verify_pin(&house.app, bo.id(), "730184").await.unwrap());
    assert_eq!(number(&house, "SELECT COUNT(*) FROM member WHERE pin_hash LIKE '$argon2id$%'").await, 1);
}

#[tokio::test]
async fn signing_out_everywhere_ends_all_at_once() {
    let house = TestHouse::start().await;
    let mut one = house.person("Bo", "keeper").await;
    let mut two = house.sign_in(one.id()).await;
    let mut three = house.sign_in(one.id()).await;
    let mut other = house.person("Cyprian", "keeper").await;
    one.submit_at("/account", "/account/sign-out-everywhere", &[]).await.sent_to();
    for browser in [&mut one, &mut two, &mut three] {
        browser.get("/account").await.is(303);
    }
    other.get("/account").await.ok();
}

#[tokio::test]
async fn colours_are_chosen_and_one_stays_on_the_page() {
    let house = TestHouse::start().await;
    let mut bo = house.person("Bo", "keeper").await;
    let (csrf, once) = bo.get("/rooms").await.ok().tokens();
    let sent = |referer: &str| {
        Request::post("/theme")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header(header::ORIGIN, URL)
            .header(header::REFERER, referer)
            .body(Body::from(format!("csrf={csrf}&once={once}&theme=dim")))
            .unwrap()
    };
    assert_eq!(bo.send(sent("http://127.0.0.1:7373/rooms")).await.sent_to(), "/rooms");
    assert_eq!(bo.get("/rooms").await.ok().attribute("html", "data-theme"), "dim");
    for foreign in ["https://e.example/rooms", "http://127.0.0.1:7373.e.example/", "http://127.0.0.1:7373//e.example", "nonsense"] {
        assert_eq!(bo.send(sent(foreign)).await.sent_to(), "/account", "{foreign}");
    }
}
