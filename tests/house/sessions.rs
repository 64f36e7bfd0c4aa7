//! Sign-ins: their cookie, their ends, and what the database holds of them.

use axum::http::header;
use silkward::house::session;

use crate::support::{Person, TestHouse};

async fn is_in(person: &mut Person) -> bool {
    person.get("/account").await.status == 200
}

#[tokio::test]
async fn the_cookie_is_for_this_house_and_not_for_scripts() {
    let house = TestHouse::start().await;
    let page = house.visitor().get("/sign-in").await.ok();
    let cookies: Vec<_> = page.headers.get_all(header::SET_COOKIE).iter().collect();
    assert_eq!(cookies.len(), 1);
    let cookie = cookies[0].to_str().unwrap();
    for part in ["silkward=", "HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    assert!(!cookie.contains("Secure") && !cookie.contains("Domain") && !cookie.contains("Max-Age"), "{cookie}");
}

#[tokio::test]
async fn what_is_stored_opens_nothing() {
    let house = TestHouse::start().await;
    let bo = house.person("Bo", "keeper").await;
    let stored: String = sqlx::query_scalar("SELECT id_hash FROM session").fetch_one(&house.app.database.writer).await.unwrap();
    assert_ne!(stored, bo.cookie());
    let mut thief = house.visitor();
    for value in [stored.as_str(), &stored[..22], "AAAAAAAAAAAAAAAAAAAAAA", "", "\"", "%00"] {
        thief.set_cookie(value);
        assert!(!is_in(&mut thief).await, "{value}");
    }
    thief.set_cookie(bo.cookie());
    assert!(is_in(&mut thief).await, "the cookie itself does");
}

#[tokio::test]
async fn a_planted_cookie_is_worth_nothing_after_signing_in() {
    let house = TestHouse::start().await;
    let bo = house.person("Bo", "keeper").await;
    let hash = silkward::staff::passphrase::hash(&house.app, "violet kettle ninth harbour").await.unwrap();
    sqlx::query("UPDATE member SET pass_hash = ? WHERE id = ?").bind(hash).bind(bo.id()).execute(&house.app.database.writer).await.unwrap();
    let mut browser = house.visitor();
    browser.get("/sign-in").await.ok();
    let planted = browser.cookie().to_owned();
    let fields = [("sign_in_name", "bo"), ("pass_phrase", "violet kettle ninth harbour"), ("next", "/account")];
    browser.submit("/sign-in", &fields).await.sent_to();
    assert_ne!(browser.cookie(), planted);
    assert!(is_in(&mut browser).await);
    let mut attacker = house.visitor();
    attacker.set_cookie(&planted);
    assert!(!is_in(&mut attacker).await);
}

#[tokio::test]
async fn an_hour_without_use_ends_a_sign_in() {
    let house = TestHouse::start().await;
    let mut bo = house.person("Bo", "keeper").await;
    house.set_clock("2026-04-15T12:59:59Z");
    assert!(is_in(&mut bo).await);
    house.set_clock("2026-04-15T13:59:58Z");
    assert!(is_in(&mut bo).await);
    house.set_clock("2026-04-15T14:59:58Z");
    assert!(!is_in(&mut bo).await);
}

#[tokio::test]
async fn twelve_hours_end_a_sign_in_however_busy() {
    let house = TestHouse::start().await;
    let mut bo = house.person("Bo", "keeper").await;
    for minute in (5..720).step_by(5) {
        house.app.clock.set(crate::support::noon() + chrono::TimeDelta::minutes(minute));
        assert!(is_in(&mut bo).await, "after {minute} minutes");
    }
    house.set_clock("2026-04-15T23:59:59Z");
    assert!(is_in(&mut bo).await);
    house.set_clock("2026-04-16T00:00:01Z");
    assert!(!is_in(&mut bo).await);
}

#[tokio::test]
async fn a_clock_that_runs_back_before_the_start_revives_nothing() {
    let house = TestHouse::start().await;
    let mut bo = house.person("Bo", "keeper").await;
    house.set_clock("2026-04-15T11:00:00Z");
    assert!(!is_in(&mut bo).await);
}

#[tokio::test]
async fn what_is_too_old_is_swept_away() {
    let house = TestHouse::start().await;
    let _bo = house.person("Bo", "keeper").await;
    let mut db = house.app.database.writer.acquire().await.unwrap();
    sqlx::query("INSERT INTO sign_in_failure (name_hash, at) VALUES ('x', ?)").bind(house.app.now()).execute(&mut *db).await.unwrap();
    session::sweep(&mut db, house.app.now() + chrono::TimeDelta::minutes(30)).await.unwrap();
    let count = "SELECT (SELECT COUNT(*) FROM session) + (SELECT COUNT(*) FROM sign_in_failure)";
    assert_eq!(sqlx::query_scalar::<_, i64>(count).fetch_one(&mut *db).await.unwrap(), 2);
    session::sweep(&mut db, house.app.now() + chrono::TimeDelta::hours(13)).await.unwrap();
    assert_eq!(sqlx::query_scalar::<_, i64>(count).fetch_one(&mut *db).await.unwrap(), 0);
}
