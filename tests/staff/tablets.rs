//! Rooms' tablets: who makes them, the address that opens one once, and what its cookie is worth.

use axum::http::header;

use crate::support::{TestHouse, number};

async fn house() -> TestHouse {
    let house = TestHouse::start().await;
    sqlx::query("INSERT INTO room (id, name, walk_order) VALUES (1, 'Quiet room', 1)").execute(&house.app.database.writer).await.unwrap();
    house
}

#[tokio::test]
async fn a_lead_makes_one_and_its_address_opens_it_once() {
    let house = house().await;
    let mut ada = house.person("Ada", "lead").await;
    ada.submit("/staff/tablets", &[("name", ""), ("room", "")]).await.is(422).says("Fill this in.").says("Choose one of the list.");
    ada.submit("/staff/tablets", &[("name", "By the door"), ("room", "9")]).await.is(422).says("Choose one of the list.");
    let page = ada.submit("/staff/tablets", &[("name", "By the door"), ("room", "1")]).await.ok().says("It works once");
    assert_eq!(page.count("svg.qr"), 1);
    let words = page.words();
    let address = words.split_whitespace().find(|word| word.contains("/tablet/open/")).unwrap();
    let path = address.strip_prefix("http://127.0.0.1:7373").unwrap().to_owned();
    let secret = path.rsplit('/').next().unwrap();
    assert!(secret.len() >= 22, "at least 128 bits");
    // Only hashes are kept.
    let kept: String = sqlx::query_scalar("SELECT link_hash FROM device").fetch_one(&house.app.database.writer).await.unwrap();
    assert_eq!(kept, silkward::house::secrets::sha256_hex(secret.as_bytes()));
    // Looking does not use it up; a preview of a messenger looks.
    let mut tablet = house.visitor();
    for _ in 0..3 {
        tablet.get(&path).await.ok().says("This browser becomes the tablet of this room.");
    }
    let opened = tablet.submit(&path, &[]).await;
    let cookies: Vec<_> = opened.headers.get_all(header::SET_COOKIE).iter().map(|cookie| cookie.to_str().unwrap().to_owned()).collect();
    let own = cookies.iter().find(|cookie| cookie.starts_with("silkward-tablet=")).unwrap();
    for part in ["HttpOnly", "SameSite=Lax", "Path=/", "Max-Age="] {
        assert!(own.contains(part), "{own}");
    }
    assert!(!own.contains("Domain"), "{own}");
    assert_eq!(opened.sent_to(), "/tablet");
    tablet.get("/tablet").await.ok().says("Quiet room").says("By the door");
    let stored: String = sqlx::query_scalar("SELECT token_hash FROM device").fetch_one(&house.app.database.writer).await.unwrap();
    assert_ne!(stored, tablet.cookie_named("silkward-tablet"));
    house.visitor().get(&path).await.is(404);
    let mut thief = house.visitor();
    thief.set_cookie_named("silkward-tablet", &stored);
    thief.get("/tablet").await.is(403);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action IN ('tablet.made', 'tablet.opened')").await, 2);
}

#[tokio::test]
async fn an_old_address_and_one_that_was_replaced_do_not_work() {
    let house = house().await;
    let mut ada = house.person("Ada", "owner").await;
    let address = |page: &crate::support::Page| {
        let words = page.words();
        words.split_whitespace().find_map(|word| Some(format!("/tablet/open/{}", word.split_once("/tablet/open/")?.1))).unwrap()
    };
    let first = address(&ada.submit("/staff/tablets", &[("name", "By the door"), ("room", "1")]).await.ok());
    let second = address(&ada.submit_at("/staff/tablets", "/staff/tablets/1/address", &[]).await.ok());
    house.visitor().get(&first).await.is(404);
    let mut tablet = house.visitor();
    tablet.submit(&second, &[]).await.sent_to();
    // A tablet that lost its sign-in is opened anew, and the old browser is so no more.
    let third = address(&ada.submit_at("/staff/tablets", "/staff/tablets/1/address", &[]).await.ok());
    tablet.get("/tablet").await.ok();
    let mut other = house.visitor();
    other.submit(&third, &[]).await.sent_to();
    other.get("/tablet").await.ok();
    tablet.get("/tablet").await.is(403);
    let again = address(&ada.submit_at("/staff/tablets", "/staff/tablets/1/address", &[]).await.ok());
    other.submit(&again, &[]).await.sent_to();
    other.get("/tablet").await.ok();
    let fourth = address(&ada.submit_at("/staff/tablets", "/staff/tablets/1/address", &[]).await.ok());
    house.set_clock("2026-04-16T12:00:01Z");
    house.visitor().get(&fourth).await.is(404);
}

#[tokio::test]
async fn keepers_make_none_and_members_open_no_page_of_a_tablet() {
    let house = house().await;
    for roles in ["keeper", "counter"] {
        let mut one = house.person(roles, roles).await;
        one.get("/staff/tablets").await.is(403);
        one.get("/tablet").await.is(403).says("This page is for a room's tablet");
    }
    let mut ada = house.person("Ada", "owner lead keeper").await;
    ada.get("/tablet").await.is(403);
    house.visitor().get("/tablet").await.is(403);
}

#[tokio::test]
async fn whoever_was_signed_in_on_the_tablet_is_so_no_more() {
    let house = house().await;
    let ada = house.person("Ada", "owner").await;
    let made = house.tablet(1, ada.id()).await;
    let mut both = ada.clone();
    both.get("/staff").await.ok();
    both.set_cookie_named("silkward-tablet", made.cookie_named("silkward-tablet"));
    assert_eq!(both.get("/staff").await.sent_to(), "/tablet", "the tablet is itself, whatever other cookie it carries");
    both.get("/tablet").await.ok();
    let address = {
        let mut write = house.app.write(Some(ada.id())).await.unwrap();
        let made = silkward::staff::store::devices::make_link(&mut write, silkward::house::ids::DeviceId(1)).await.unwrap();
        write.commit(silkward::house::audit::Change::new("test.link", "device 1", ""), "/").await.unwrap();
        format!("/tablet/open/{}", made.token)
    };
    let mut own = ada.clone();
    let before = number(&house, "SELECT COUNT(*) FROM session WHERE member_id = 1").await;
    own.submit(&address, &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM session WHERE member_id = 1").await, before - 1);
}
