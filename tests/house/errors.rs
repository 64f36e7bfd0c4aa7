//! Error pages and the headers that every answer carries.

use axum::body::Body;
use axum::http::{Method, Request, header};
use silkward::house::access::{May, Routes};
use silkward::house::app::App;
use silkward::house::clock::Clock;
use silkward::house::config::Config;
use silkward::house::database::Durability;
use silkward::house::errors::{Answer, AppError};
use silkward::house::router;
use tower::ServiceExt as _;

use crate::support::{Page, Person, TestHouse, URL, noon};

fn is_designed(page: Page, status: u16) {
    let page = page.is(status);
    assert_eq!(page.count("link[rel=stylesheet]"), 1);
    let words = page.words();
    let number = words.rsplit("give them the number ").next().unwrap().trim_end_matches('.').to_owned();
    assert_eq!(number.len(), 8, "{words}");
    assert!(page.headers["x-request-id"].to_str().unwrap().starts_with(&number));
    for inner in ["sqlx", "SELECT", "panicked", "server/", ".rs", "tower"] {
        assert!(!page.text().contains(inner), "{inner}");
    }
    has_headers(&page);
}

fn has_headers(page: &Page) {
    let header = |name: &str| page.headers.get(name).unwrap_or_else(|| panic!("no {name}")).to_str().unwrap();
    let policy = header("content-security-policy");
    for part in ["default-src 'none'", "base-uri 'none'", "form-action 'self'", "frame-ancestors 'none'", "object-src 'none'"] {
        assert!(policy.contains(part), "{policy}");
    }
    assert!(!policy.contains("unsafe"));
    assert_eq!(header("x-content-type-options"), "nosniff");
    assert_eq!(header("cross-origin-opener-policy"), "same-origin");
    assert_eq!(header("cross-origin-resource-policy"), "same-origin");
    assert!(page.headers.contains_key("permissions-policy"));
    assert!(page.headers.contains_key("referrer-policy"));
    assert!(!page.headers.contains_key("access-control-allow-origin"));
    assert!(!page.headers.contains_key(header::STRICT_TRANSPORT_SECURITY));
}

#[tokio::test]
async fn errors_have_a_page_and_a_number() {
    let house = TestHouse::start().await;
    let mut visitor = house.visitor();
    is_designed(visitor.get("/nowhere").await, 404);
    is_designed(visitor.get("/static/nowhere.css").await, 404);
    let put = Request::builder().method(Method::PUT).uri("/sign-in").header(header::ORIGIN, URL);
    is_designed(visitor.send(put.body(Body::empty()).unwrap()).await, 405);
    let long = "a".repeat(70 * 1024);
    is_designed(visitor.post_raw("/sign-in", &[("sign_in_name", &long)]).await, 413);
    let mut lead = house.person("Ada", "lead").await;
    is_designed(lead.get("/rooms/99/racks/new").await, 404);
    is_designed(lead.get("/rooms/ninety/racks/new").await, 404);
    is_designed(lead.get("/staff").await, 403);
    is_designed(lead.submit("/rooms/new", &[("nmae", "Room")]).await, 400);
}

#[tokio::test]
async fn another_host_name_is_refused() {
    let house = TestHouse::start().await;
    let router = router::build(&house.app);
    for host in [Some("evil.example"), Some("127.0.0.1:7373.evil.example"), None] {
        let mut request = Request::get("/sign-in");
        if let Some(host) = host {
            request = request.header(header::HOST, host);
        }
        let answer = router.clone().oneshot(request.body(Body::empty()).unwrap()).await.unwrap();
        assert_eq!(answer.status(), 400);
        assert!(answer.headers().contains_key(header::CONTENT_SECURITY_POLICY));
    }
    let probe = router.oneshot(Request::get("/healthz").body(Body::empty()).unwrap()).await.unwrap();
    assert_eq!(probe.status(), 200);
}

async fn breaks() -> Answer {
    panic!("a secret of server/somewhere.rs")
}

async fn fails() -> Answer {
    Err(AppError::Internal(anyhow::anyhow!("SELECT secret FROM server/somewhere.rs")))
}

#[tokio::test]
async fn a_panic_and_an_inner_error_show_nothing_of_themselves() {
    let house = TestHouse::start().await;
    let routes = Routes::new().get("/breaks", May::Anybody, breaks).get("/fails", May::Anybody, fails);
    let mut visitor = Person::at(router::build_with(&house.app, routes));
    is_designed(visitor.get("/breaks").await, 500);
    is_designed(visitor.get("/fails").await, 500);
}

#[tokio::test]
async fn every_kind_of_answer_has_the_headers() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    has_headers(&lead.get("/rooms").await.ok());
    has_headers(&house.visitor().get("/rooms").await.is(303));
    assert_eq!(lead.get("/rooms").await.headers[header::CACHE_CONTROL], "no-store");
    let sheet = lead.get("/rooms").await.attribute("link[rel=stylesheet]", "href");
    let sheet = lead.get(&sheet).await.ok();
    has_headers(&sheet);
    assert!(sheet.headers[header::CACHE_CONTROL].to_str().unwrap().contains("immutable"));
}

#[tokio::test]
async fn only_a_house_behind_tls_asks_browsers_to_stay_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let listen = "127.0.0.1:7373".parse().unwrap();
    let config = Config::new(folder.path().to_path_buf(), listen, Some("https://book.example.org")).unwrap();
    let app = App::open(config, Clock::standing_at(noon()), Durability::Full).await.unwrap();
    let request = Request::get("/sign-in").header(header::HOST, "book.example.org").body(Body::empty()).unwrap();
    let answer = router::build(&app).oneshot(request).await.unwrap();
    assert_eq!(answer.headers()[header::STRICT_TRANSPORT_SECURITY], "max-age=31536000");
    let cookie = answer.headers()[header::SET_COOKIE].to_str().unwrap();
    assert!(cookie.starts_with("__Host-silkward="), "{cookie}");
    for part in ["HttpOnly", "Secure", "SameSite=Lax", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    assert!(!cookie.contains("Domain"), "{cookie}");
    let public = Config::new(folder.path().to_path_buf(), "0.0.0.0:7373".parse().unwrap(), None);
    assert!(public.is_err(), "plain HTTP where others listen in");
}
