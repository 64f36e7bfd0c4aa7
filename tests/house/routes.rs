//! Routes and roles: the table `routes.txt` is held against the program's own list, and every route is tried in every role.
//! After a route was added on purpose, write the table anew with `BLESS=1 cargo test --test all house::routes`.

use std::fmt::Write as _;

use axum::body::Body;
use axum::http::{Request, header};
use silkward::house::access::{May, Route, Verb};
use silkward::house::router;
use silkward::house::secrets::random_token;

use super::unchanged::fingerprint;
use crate::support::{Page, Person, TestHouse, URL};

const TABLE: &str = include_str!("routes.txt");

fn listed() -> Vec<Route> {
    let mut routes = router::all_routes().listed().to_vec();
    routes.sort();
    routes
}

#[test]
fn the_table_names_every_route_and_its_permission() {
    let mut table = String::new();
    for route in listed() {
        writeln!(table, "{} {} {}", route.method.http(), route.path, route.may.code()).unwrap();
    }
    if std::env::var_os("BLESS").is_some() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/house/routes.txt");
        std::fs::write(path, &table).unwrap();
        return;
    }
    let (now, checked): (Vec<&str>, Vec<&str>) = (table.lines().collect(), TABLE.lines().collect());
    let added: Vec<_> = now.iter().filter(|line| !checked.contains(line)).collect();
    let gone: Vec<_> = checked.iter().filter(|line| !now.contains(line)).collect();
    assert!(added.is_empty() && gone.is_empty(), "not in the table: {added:#?}\nin the table only: {gone:#?}");
}

#[test]
fn nothing_but_the_front_door_is_open_to_everybody() {
    let open: Vec<_> = listed().into_iter().filter(|route| route.may == May::Anybody).map(|route| route.path).collect();
    for path in open {
        let front = [
            "/healthz",
            "/readyz",
            "/static/",
            "/sign-in",
            "/setup/",
            "/welcome/",
            "/renew/",
            "/sheet/",
            "/verify",
            "/service-worker.js",
            "/round/offline",
            "/tablet/open/",
        ];
        assert!(front.iter().any(|start| path.starts_with(start)), "{path} is open to everybody");
    }
}

/// The route's address with something in each of its parts that exists nowhere.
fn address(route: &Route) -> String {
    let parts = route.path.split('/').map(|part| match part {
        "{stage}" => "juvenile",
        "{language}" => "en",
        "{band}" => "2",
        "{exposure}" => "open",
        "{deed}" => "lost",
        "{kind}" if route.path.starts_with("/round/racks/") => "feed",
        part if part.starts_with('{') => "999999",
        part => part,
    });
    let question = if route.path == "/handling/cautions/new" { "?animal=999999" } else { "" };
    parts.collect::<Vec<_>>().join("/") + question
}

struct Sent<'a> {
    csrf: &'a str,
    more: &'a str,
    headers: &'a [(&'a str, &'a str)],
    as_file: bool,
}

async fn post(person: &mut Person, path: &str, sent: &Sent<'_>) -> Page {
    let once = random_token();
    let (kind, body) = if sent.as_file {
        let field = |name: &str, value: &str| format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
        ("multipart/form-data; boundary=edge", format!("{}{}--edge--\r\n", field("csrf", sent.csrf), field("once", &once)))
    } else {
        ("application/x-www-form-urlencoded", format!("csrf={}&once={once}{}", sent.csrf, sent.more))
    };
    let mut request = Request::post(path).header(header::CONTENT_TYPE, kind);
    for (name, value) in sent.headers {
        request = request.header(*name, *value);
    }
    person.send(request.body(Body::from(body)).unwrap()).await
}

const OURS: &[(&str, &str)] = &[("origin", URL)];

/// Whether a route takes a file: it says so when it gets none.
async fn takes_file(person: &mut Person, path: &str, csrf: &str) -> bool {
    let page = post(person, path, &Sent { csrf, more: "", headers: OURS, as_file: false }).await;
    page.status == 400 && page.words().contains("takes a file")
}

async fn token(person: &mut Person) -> String {
    let shown = person.get("/sign-in").await;
    if shown.status == 200 { shown.value("input[name=csrf]") } else { person.get("/account").await.ok().value("input[name=csrf]") }
}

async fn attempt(house: &TestHouse, who: &Person, route: &Route) -> Page {
    let mut person = house.sign_in(who.id()).await;
    match route.method {
        Verb::Get => person.get(&address(route)).await,
        Verb::Post => {
            let csrf = token(&mut person).await;
            post(&mut person, &address(route), &Sent { csrf: &csrf, more: "", headers: OURS, as_file: false }).await
        }
    }
}

fn role_suffices(may: May, role: &str) -> bool {
    match may {
        May::Anybody | May::Member => true,
        May::Keep => matches!(role, "keeper" | "lead" | "owner"),
        May::Sell => matches!(role, "counter" | "lead" | "owner"),
        May::Lead => matches!(role, "lead" | "owner"),
        May::Own => role == "owner",
        May::Tablet => role == "tablet",
    }
}

#[tokio::test]
async fn every_role_gets_what_the_table_says_on_every_route() {
    let house = TestHouse::start().await;
    for role in ["keeper", "counter", "lead", "owner", "none"] {
        let who = house.person(role, role).await;
        for route in listed() {
            let status = attempt(&house, &who, &route).await.status.as_u16();
            let what = format!("{role}: {} {} gave {status}", route.method.http(), route.path);
            if role_suffices(route.may, role) {
                assert!(status != 403 && (status < 500 || route.path == "/readyz"), "{what}");
            } else {
                assert_eq!(status, 403, "{what}");
            }
        }
    }
}

/// A browser that is a room's tablet.
async fn tablet(house: &TestHouse) -> Person {
    let ada = house.person("Tamlyn", "owner").await;
    sqlx::query("INSERT INTO room (id, name, walk_order) VALUES (1, 'Quiet room', 1)").execute(&house.app.database.writer).await.unwrap();
    house.tablet(1, ada.id()).await
}

/// The token of a tablet's forms.
async fn tablet_token(tablet: &mut Person) -> String {
    tablet.get("/tablet").await.ok().value("input[name=csrf]")
}

#[tokio::test]
async fn a_tablet_passes_its_own_guard_and_no_other() {
    let house = TestHouse::start().await;
    let mut tablet = tablet(&house).await;
    let csrf = tablet_token(&mut tablet).await;
    let before = fingerprint(&house).await;
    for route in listed() {
        let page = match route.method {
            Verb::Get => tablet.get(&address(&route)).await,
            Verb::Post => post(&mut tablet, &address(&route), &Sent { csrf: &csrf, more: "", headers: OURS, as_file: false }).await,
        };
        let (status, what) = (page.status.as_u16(), format!("{} {}", route.method.http(), route.path));
        let for_all = ["/static/{name}", "/healthz", "/readyz", "/tablet/open/{token}"].contains(&route.path);
        match (route.may, route.method) {
            (May::Tablet, _) => assert!(status != 403 && status < 500, "{what} gave {status}"),
            _ if for_all => assert!(status != 403 && (status < 500 || route.path == "/readyz"), "{what} gave {status}"),
            (_, Verb::Get) => assert_eq!(page.sent_to(), "/tablet", "{what}"),
            (_, Verb::Post) => assert_eq!(status, 403, "{what}"),
        }
    }
    assert_eq!(fingerprint(&house).await, before);
}

#[tokio::test]
async fn a_tablets_change_needs_its_own_token_and_page_and_known_fields() {
    let house = TestHouse::start().await;
    let mut tablet = tablet(&house).await;
    let csrf = tablet_token(&mut tablet).await;
    let foreign = token(&mut house.person("Bo", "owner").await).await;
    let before = fingerprint(&house).await;
    for route in listed().iter().filter(|route| route.method == Verb::Post && route.may == May::Tablet) {
        let path = address(route);
        for wrong in ["", "AAAAAAAAAAAAAAAAAAAAAAAAAAA", foreign.as_str()] {
            let status = post(&mut tablet, &path, &Sent { csrf: wrong, more: "", headers: OURS, as_file: false }).await.status;
            assert_eq!(status, 403, "{path} took the token “{wrong}”");
        }
        for headers in [&[][..], &[("origin", "https://evil.example")], &[("origin", URL), ("sec-fetch-site", "cross-site")]] {
            let status = post(&mut tablet, &path, &Sent { csrf: &csrf, more: "", headers, as_file: false }).await.status;
            assert_eq!(status, 403, "{path} took a change from {headers:?}");
        }
        let status = post(&mut tablet, &path, &Sent { csrf: &csrf, more: "&signed_by=2", headers: OURS, as_file: false }).await.status;
        assert_eq!(status, 400, "{path} took a field that it does not ask for");
    }
    assert_eq!(fingerprint(&house).await, before);
}

#[tokio::test]
async fn visitors_and_disabled_members_are_sent_to_sign_in() {
    let house = TestHouse::start().await;
    let disabled = house.person("Gone", "owner lead keeper counter").await;
    sqlx::query("UPDATE member SET disabled_at = '2026-01-01T00:00:00+00:00'").execute(&house.app.database.writer).await.unwrap();
    for route in listed().iter().filter(|route| route.may != May::Anybody) {
        for mut who in [house.visitor(), house.sign_in(disabled.id()).await] {
            let what = format!("{} {}", route.method.http(), route.path);
            let page = match route.method {
                Verb::Get => who.get(&address(route)).await,
                Verb::Post => post(&mut who, &address(route), &Sent { csrf: "none", more: "", headers: OURS, as_file: false }).await,
            };
            if route.may == May::Tablet {
                // Signing in would not help: it takes a tablet.
                assert_eq!(page.status, 403, "{what}");
            } else {
                is_sign_in(page, &what);
            }
        }
    }
}

fn is_sign_in(page: Page, what: &str) {
    assert_eq!(page.status, 303, "{what}");
    assert!(page.headers[header::LOCATION].to_str().unwrap().starts_with("/sign-in"), "{what}");
}

#[tokio::test]
async fn a_change_needs_its_own_sessions_token_and_our_own_page() {
    let house = TestHouse::start().await;
    let owner = house.person("Ada", "owner").await;
    let foreign = token(&mut house.person("Bo", "owner").await).await;
    let before = fingerprint(&house).await;
    let sites: [&[(&str, &str)]; 7] = [
        &[],
        &[("origin", "null")],
        &[("origin", "https://evil.example")],
        &[("origin", "http://127.0.0.1:7373.evil.example")],
        &[("origin", "http://book.127.0.0.1:7373")],
        &[("origin", URL), ("sec-fetch-site", "cross-site")],
        &[("origin", URL), ("sec-fetch-site", "same-site")],
    ];
    for route in listed().iter().filter(|route| route.method == Verb::Post) {
        let path = address(route);
        let mut who = house.sign_in(owner.id()).await;
        let csrf = token(&mut who).await;
        let mut probe = house.sign_in(owner.id()).await;
        let probe_token = token(&mut probe).await;
        let as_file = route.path.contains("import") && takes_file(&mut probe, &path, &probe_token).await;
        for wrong in ["", "AAAAAAAAAAAAAAAAAAAAAAAAAAA", foreign.as_str()] {
            let status = post(&mut who, &path, &Sent { csrf: wrong, more: "", headers: OURS, as_file }).await.status;
            assert_eq!(status, 403, "{path} took the token “{wrong}”");
        }
        for headers in sites {
            let status = post(&mut who, &path, &Sent { csrf: &csrf, more: "", headers, as_file }).await.status;
            assert_eq!(status, 403, "{path} took a change from {headers:?}");
        }
    }
    assert_eq!(fingerprint(&house).await, before);
}

#[tokio::test]
async fn a_field_that_the_page_does_not_ask_for_is_refused() {
    let house = TestHouse::start().await;
    let owner = house.person("Ada", "owner").await;
    let before = fingerprint(&house).await;
    for route in listed().iter().filter(|route| route.method == Verb::Post && route.may != May::Tablet) {
        let path = address(route);
        for more in ["&unlisted=1", "&id=1&role=owner&version=9&created_at=x&signed_by=2&hazard_class=0"] {
            let mut who = house.sign_in(owner.id()).await;
            let csrf = token(&mut who).await;
            let page = post(&mut who, &path, &Sent { csrf: &csrf, more, headers: OURS, as_file: false }).await;
            assert_eq!(page.status, 400, "{path} took {more}");
        }
    }
    assert_eq!(fingerprint(&house).await, before);
}
