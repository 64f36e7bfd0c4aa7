//! One-time links: set-up, invitations, new pass phrases.

use silkward::staff::setup;

use super::{GOOD, OTHER, give_phrase};
use crate::support::{Person, TestHouse, URL, number};

const SETUP: [(&str, &str); 7] = [
    ("house_name", "Fern Lane"),
    ("zone", "Europe/London"),
    ("emergency", "Ambulance 112"),
    ("name", "Ada"),
    ("sign_in_name", "ada"),
    ("pass_phrase", GOOD),
    ("again", GOOD),
];

async fn setup_path(house: &TestHouse) -> String {
    setup::make_link(&house.app).await.unwrap().strip_prefix(URL).unwrap().to_owned()
}

#[tokio::test]
async fn the_first_owner_is_set_up_once_and_signs_in() {
    let house = TestHouse::start().await;
    let older = setup_path(&house).await;
    let path = setup_path(&house).await;
    house.visitor().get(&older).await.is(404);
    let again = house.visitor().submit(&path, &[("house_name", "Fern Lane"), ("zone", "Nowhere"), ("pass_phrase", "short")]).await.is(422);
    assert_eq!(again.value("#house_name"), "Fern Lane");
    assert_eq!(again.count(".mistakes li"), 4);
    let mut browser = house.visitor();
    assert_eq!(browser.submit(&path, &SETUP).await.sent_to(), "/sign-in");
    browser.get("/sign-in").await.ok().says("The house is set up.");
    browser.submit("/sign-in", &[("sign_in_name", "ada"), ("pass_phrase", GOOD), ("next", "/staff")]).await.sent_to();
    browser.get("/staff").await.ok().says("owner, lead").says("Fern Lane");
    browser.get(&path).await.is(404);
    assert!(setup::make_link(&house.app).await.unwrap_err().to_string().contains("has an owner"));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE member_id = 1").await, 1);
}

#[tokio::test]
async fn twenty_set_ups_at_once_make_one_owner() {
    let house = TestHouse::start().await;
    let path = setup_path(&house).await;
    let tries: Vec<_> = (0..20)
        .map(|_| {
            let (mut browser, path) = (house.visitor(), path.clone());
            tokio::spawn(async move {
                let (csrf, once) = browser.get(&path).await.ok().tokens();
                let mut fields = SETUP.to_vec();
                fields.extend([("csrf", csrf.as_str()), ("once", once.as_str())]);
                tokio::time::sleep(std::time::Duration::from_millis(200)).await;
                browser.post_raw(&path, &fields).await.status.as_u16()
            })
        })
        .collect();
    let mut made = 0;
    for one in tries {
        match one.await.unwrap() {
            303 => made += 1,
            other => assert_eq!(other, 404),
        }
    }
    assert_eq!(made, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM member").await, 1);
}

#[tokio::test]
async fn a_set_up_link_runs_out() {
    let house = TestHouse::start().await;
    let path = setup_path(&house).await;
    house.set_clock("2026-04-16T11:59:59Z");
    house.visitor().get(&path).await.ok();
    house.set_clock("2026-04-16T12:00:00Z");
    house.visitor().get(&path).await.is(404);
    house.visitor().get("/setup/AAAAAAAAAAAAAAAAAAAAAAAAAAA").await.is(404);
}

async fn invitation(owner: &mut Person, fields: &[(&str, &str)]) -> String {
    let page = owner.submit("/staff/invite", fields).await.ok();
    let html = scraper::Html::parse_document(&page.text());
    let link = html.select(&scraper::Selector::parse("#link").unwrap()).next().unwrap().text().collect::<String>();
    link.strip_prefix(URL).unwrap().to_owned()
}

#[tokio::test]
async fn an_invitation_gives_what_the_inviter_chose_once() {
    let house = TestHouse::start().await;
    let mut owner = house.person("Ada", "owner").await;
    let path = invitation(&mut owner, &[("name", "Bo"), ("keeper", "yes")]).await;
    let token = path.rsplit('/').next().unwrap().to_owned();
    assert!(token.len() >= 27);
    let kept: String = sqlx::query_scalar("SELECT token_hash FROM one_time_link").fetch_one(&house.app.database.writer).await.unwrap();
    assert_ne!(kept, token);
    for _ in 0..5 {
        house.visitor().get(&path).await.ok().says("Welcome, Bo").says("keeper");
    }
    let join = [("sign_in_name", "bo"), ("pass_phrase", GOOD), ("again", GOOD)];
    let mut more = join.to_vec();
    more.push(("owner", "yes"));
    house.visitor().submit(&path, &more).await.is(400);
    let taken = [("sign_in_name", "ADA"), ("pass_phrase", GOOD), ("again", GOOD)];
    house.visitor().submit(&path, &taken).await.is(422).says("Somebody already signs in with this name.");
    let mut second = house.visitor();
    let (csrf, once) = second.get(&path).await.ok().tokens();
    house.visitor().submit(&path, &join).await.sent_to();
    let mut late = join.to_vec();
    late.extend([("csrf", csrf.as_str()), ("once", once.as_str())]);
    second.post_raw(&path, &late).await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM member").await, 2);
    assert_eq!(number(&house, "SELECT is_owner + is_lead + is_counter FROM member WHERE name = 'Bo'").await, 0);
}

#[tokio::test]
async fn an_invitation_can_be_revoked_and_runs_out() {
    let house = TestHouse::start().await;
    let mut owner = house.person("Ada", "owner").await;
    owner.submit("/staff/invite", &[("name", "Bo")]).await.is(422).says("Tick one role at least.");
    let path = invitation(&mut owner, &[("name", "Bo"), ("keeper", "yes")]).await;
    owner.submit_at("/staff", "/staff/links/1/revoke", &[]).await.sent_to();
    let revoked = house.visitor().get(&path).await.is(404).words();
    let path = invitation(&mut owner, &[("name", "Cyprian"), ("counter", "yes")]).await;
    house.set_clock("2026-04-18T12:00:00Z");
    let old = house.visitor().get(&path).await.is(404).words();
    let without_number = |words: &str| words.rsplit_once(' ').unwrap().0.to_owned();
    assert_eq!(without_number(&revoked), without_number(&old));
}

#[tokio::test]
async fn a_link_for_a_new_phrase_works_once_within_the_hour_and_signs_nobody_in() {
    let house = TestHouse::start().await;
    let mut owner = house.person("Ada", "owner").await;
    let mut bo = house.person("Bo", "keeper").await;
    give_phrase(&house, bo.id()).await;
    let page = format!("/staff/{}", bo.id());
    let shown = owner.submit_at(&page, &format!("{page}/reset-link"), &[]).await.ok().words();
    let path = shown.split_whitespace().find_map(|word| word.strip_prefix(URL)).unwrap().to_owned();
    let mut browser = house.visitor();
    browser.get(&path).await.ok().says("Ada gave this link to Bo");
    house.visitor().submit("/sign-in", &[("sign_in_name", "bo"), ("pass_phrase", GOOD), ("next", "/")]).await.sent_to();
    browser.submit(&path, &[("pass_phrase", OTHER), ("again", OTHER)]).await.sent_to();
    browser.get("/account").await.is(303);
    bo.get("/account").await.is(303);
    browser.get(&path).await.is(404);
    house.visitor().submit("/sign-in", &[("sign_in_name", "bo"), ("pass_phrase", OTHER), ("next", "/")]).await.sent_to();
    let shown = owner.submit_at(&page, &format!("{page}/reset-link"), &[]).await.ok().words();
    let path = shown.split_whitespace().find_map(|word| word.strip_prefix(URL)).unwrap().to_owned();
    house.set_clock("2026-04-15T13:00:00Z");
    house.visitor().get(&path).await.is(404);
}
