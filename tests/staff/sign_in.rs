//! Signing in and out.

use super::{GOOD, give_phrase};
use crate::support::{TestHouse, number};

#[tokio::test]
async fn the_right_phrase_signs_in_and_leads_where_one_wanted_to_go() {
    let house = TestHouse::start().await;
    let bo = house.person("Bo", "keeper").await;
    give_phrase(&house, bo.id()).await;
    let mut browser = house.visitor();
    let asked = browser.get("/rooms?from=label").await.sent_to();
    assert_eq!(asked, "/sign-in?next=%2Frooms%3Ffrom%3Dlabel");
    let page = browser.get(&asked).await.ok();
    assert_eq!(page.attribute("#pass_phrase", "autocomplete"), "current-password");
    assert_eq!(page.attribute("#sign_in_name", "autocomplete"), "username");
    let fields = [("sign_in_name", " BO "), ("pass_phrase", GOOD), ("next", "/rooms?from=label")];
    assert_eq!(browser.submit("/sign-in", &fields).await.sent_to(), "/rooms?from=label");
    browser.get("/rooms").await.ok();
    browser.get("/account").await.ok().says("Bo").says("(this one)");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sign_in_failure").await, 0);
}

#[tokio::test]
async fn only_local_addresses_are_gone_to_after_signing_in() {
    let house = TestHouse::start().await;
    let bo = house.person("Bo", "keeper").await;
    give_phrase(&house, bo.id()).await;
    for next in ["//e.example", "/\\e.example", "https:e.example", "https://e.example/", "\t//e.example", "javascript:1", ""] {
        let mut browser = house.visitor();
        let fields = [("sign_in_name", "bo"), ("pass_phrase", GOOD), ("next", next)];
        assert_eq!(browser.submit("/sign-in", &fields).await.sent_to(), "/", "{next}");
    }
}

#[tokio::test]
async fn unknown_disabled_and_wrong_get_the_same_answer() {
    let house = TestHouse::start().await;
    let bo = house.person("Bo", "keeper").await;
    let cy = house.person("Cyprian", "keeper").await;
    give_phrase(&house, bo.id()).await;
    give_phrase(&house, cy.id()).await;
    let disabled = sqlx::query("UPDATE member SET disabled_at = '2026-01-01T00:00:00+00:00' WHERE name = 'Cyprian'")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    assert_eq!(disabled.rows_affected(), 1);
    let mut answers = Vec::new();
    for (name, phrase) in [("bo", "wrong wrong words here"), ("nobody", GOOD), ("cyprian", GOOD)] {
        let answer = house.visitor().submit("/sign-in", &[("sign_in_name", name), ("pass_phrase", phrase), ("next", "/")]).await.is(422);
        assert_eq!(answer.value("#sign_in_name"), name);
        assert_eq!(answer.value("#pass_phrase"), "", "a pass phrase is never sent back");
        answers.push(answer.words());
    }
    assert!(answers.iter().all(|answer| *answer == answers[0]), "{answers:?}");
}

#[tokio::test]
async fn guessing_stops_at_twenty_also_when_all_come_at_once_and_others_still_sign_in() {
    let house = TestHouse::start().await;
    let bo = house.person("Bo", "keeper").await;
    let cy = house.person("Cyprian", "keeper").await;
    give_phrase(&house, bo.id()).await;
    give_phrase(&house, cy.id()).await;
    let guesses: Vec<_> = (0..30)
        .map(|_| {
            let mut browser = house.visitor();
            tokio::spawn(async move {
                browser.submit("/sign-in", &[("sign_in_name", "bo"), ("pass_phrase", "wrong"), ("next", "/")]).await.status.as_u16()
            })
        })
        .collect();
    let mut reached = 0;
    for guess in guesses {
        match guess.await.unwrap() {
            422 => reached += 1,
            other => assert_eq!(other, 429),
        }
    }
    assert!(reached <= 20, "{reached} guesses reached the hash");
    let right = [("sign_in_name", "bo"), ("pass_phrase", GOOD), ("next", "/")];
    let refused = house.visitor().submit("/sign-in", &right).await.is(429).says("Wait fifteen minutes");
    assert_eq!(refused.value("#sign_in_name"), "bo");
    house.visitor().submit("/sign-in", &[("sign_in_name", "cyprian"), ("pass_phrase", GOOD), ("next", "/")]).await.sent_to();
    house.set_clock("2026-04-15T12:15:01Z");
    house.visitor().submit("/sign-in", &right).await.sent_to();
}

#[tokio::test]
async fn a_cheaper_hash_is_replaced_at_sign_in() {
    use argon2::{Algorithm, Argon2, Params, PasswordHasher as _, Version};
    let house = TestHouse::start().await;
    house.person("Bo", "keeper").await;
    let cheap = Argon2::new(Algorithm::Argon2id, Version::V0x13, Params::new(8192, 1, 1, None).unwrap());
    let hash = cheap.hash_password(GOOD.as_bytes()).unwrap().to_string();
    sqlx::query("UPDATE member SET pass_hash = ?").bind(&hash).execute(&house.app.database.writer).await.unwrap();
    house.visitor().submit("/sign-in", &[("sign_in_name", "bo"), ("pass_phrase", GOOD), ("next", "/")]).await.sent_to();
    let now: String = sqlx::query_scalar("SELECT pass_hash FROM member").fetch_one(&house.app.database.writer).await.unwrap();
    assert!(now.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{now}");
    house.visitor().submit("/sign-in", &[("sign_in_name", "bo"), ("pass_phrase", GOOD), ("next", "/")]).await.sent_to();
}

#[tokio::test]
async fn signing_out_ends_the_session_in_the_store() {
    let house = TestHouse::start().await;
    let mut bo = house.person("Bo", "keeper").await;
    let mut copy = bo.clone();
    let out = bo.submit_at("/account", "/sign-out", &[]).await;
    assert!(out.headers["clear-site-data"].to_str().unwrap().contains("\"cookies\""));
    assert_eq!(out.sent_to(), "/sign-in");
    copy.get("/account").await.is(303);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM session WHERE member_id IS NOT NULL").await, 0);
}
