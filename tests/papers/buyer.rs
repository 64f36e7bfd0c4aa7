//! The buyer's link: opens one sheet, tells nothing else, and can be closed.

use axum::body::Body;
use axum::http::{Method, Request};

use crate::sales::stock::{self, BUYER, CALM, RISKY, house};
use crate::support::{Person, URL, number};

/// The path of the open link that the handover's page shows first.
pub async fn link(seller: &mut Person, address: &str) -> String {
    let page = seller.get(address).await.ok().words();
    let link = page.split(' ').find(|word| word.contains("/sheet/")).expect("no link on the page").to_owned();
    link.strip_prefix(URL).unwrap().to_owned()
}

#[tokio::test]
async fn anybody_with_the_link_sees_the_sheet_that_staff_see_and_nothing_else() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let other = stock::begin(&mut seller).await;
    let risky = stock::animal(&house, RISKY).await;
    stock::add_animal(&house, &mut seller, &other, risky).await;
    stock::hand_over(&mut seller, &other, "").await.sent_to();
    let address = stock::done(&house, &mut seller).await;
    let link = link(&mut seller, &address).await;

    let mut visitor = house.visitor();
    let page = visitor.get(&link).await.ok();
    assert_eq!(page.headers["referrer-policy"], "no-referrer");
    assert!(page.headers["x-robots-tag"].to_str().unwrap().contains("noindex"));
    assert!(!page.headers.contains_key("set-cookie"));
    assert_eq!(page.count("a, nav, form, script, iframe, img"), 0);
    assert_eq!(page.bytes, seller.get("/papers/5").await.ok().bytes);
    page.says(CALM).says(&format!("{URL}{link}"));
    let text = visitor.get(&link).await.text();
    for secret in BUYER.iter().chain(&[RISKY, "S-2026-0001", "Cyprian", "A breeder"]) {
        assert!(!text.contains(secret), "{secret}");
    }
    let head = visitor.send(Request::builder().method(Method::HEAD).uri(&link).body(Body::empty()).unwrap()).await.ok();
    assert!(!head.headers.contains_key("set-cookie"));
}

#[tokio::test]
async fn unknown_malformed_and_closed_links_are_answered_alike() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = stock::done(&house, &mut seller).await;
    let open = link(&mut seller, &address).await;
    seller.submit_at(&address, "/papers/1/revoke", &[]).await.sent_to();
    seller.get(&address).await.ok().says("The buyer's link is closed");
    seller.submit_at(&address, "/papers/1/revoke", &[]).await.is(409);
    let mut visitor = house.visitor();
    let closed = visitor.get(&open).await.is(404);
    let long = format!("/sheet/{}", "a".repeat(3000));
    for path in ["/sheet/AAAAAAAAAAAAAAAAAAAAAAAAAAA", "/sheet/x", "/sheet/%ff%00", "/sheet/..%2f..", &long, &format!("{open}/original")] {
        let unknown = visitor.get(path).await.is(404);
        assert_eq!(unknown.bytes, closed.bytes, "{path}");
        assert_eq!(unknown.headers["referrer-policy"], "no-referrer");
        assert!(!unknown.headers.contains_key("set-cookie"));
    }
}

#[tokio::test]
async fn a_new_link_closes_the_one_before_it() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = stock::done(&house, &mut seller).await;
    let first = link(&mut seller, &address).await;
    seller.submit_at(&address, "/papers/1/link", &[]).await.sent_to();
    let second = link(&mut seller, &address).await;
    assert_ne!(first, second);
    let mut visitor = house.visitor();
    visitor.get(&first).await.is(404);
    visitor.get(&second).await.ok();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'paper.link-made'").await, 1);
    assert!(sqlx::query("UPDATE buyer_link SET revoked_at = NULL").execute(&house.app.database.writer).await.is_err());
}

#[tokio::test]
async fn the_database_alone_opens_nothing() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = stock::done(&house, &mut seller).await;
    let link = link(&mut seller, &address).await;
    let token = link.rsplit('/').next().unwrap();
    assert_eq!(token.len(), 27);
    sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").execute(&house.app.database.writer).await.unwrap();
    let file = std::fs::read(house.app.config.database_file()).unwrap();
    assert!(!file.windows(token.len()).any(|window| window == token.as_bytes()));
    let mut visitor = house.visitor();
    let stored: Vec<String> = sqlx::query_scalar("SELECT nonce FROM buyer_link UNION SELECT token_hash FROM buyer_link")
        .fetch_all(&house.app.database.writer)
        .await
        .unwrap();
    for guess in stored {
        visitor.get(&format!("/sheet/{guess}")).await.is(404);
    }
}

/// Collects what the program logs.
#[derive(Clone, Default)]
struct Log(std::sync::Arc<std::sync::Mutex<Vec<u8>>>);

impl std::io::Write for Log {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[tokio::test]
async fn no_log_line_holds_a_links_secret() {
    let log = Log::default();
    let writer = log.clone();
    // With one subscriber alone, a log line that another test's thread meets first is taken for unwanted everywhere.
    let _second = tracing::Dispatch::new(tracing_subscriber::fmt().with_writer(std::io::sink).finish());
    let subscriber = tracing_subscriber::fmt().with_max_level(tracing::Level::TRACE).with_writer(move || writer.clone()).finish();
    let _logging = tracing::subscriber::set_default(subscriber);
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = stock::done(&house, &mut seller).await;
    let link = link(&mut seller, &address).await;
    let mut visitor = house.visitor();
    visitor.get(&link).await.ok();
    visitor.get(&format!("{link}/original")).await.ok();
    sqlx::query("DROP TRIGGER paper_keeps").execute(&house.app.database.writer).await.unwrap();
    sqlx::query("UPDATE paper SET body = x'00'").execute(&house.app.database.writer).await.unwrap();
    visitor.get(&link).await.is(500);
    seller.submit_at(&address, "/papers/1/revoke", &[]).await.sent_to();
    visitor.get(&link).await.is(404);
    let log = String::from_utf8(log.0.lock().unwrap().clone()).unwrap();
    assert!(log.contains("/sheet/{token}"), "the route is not logged:\n{log}");
    assert!(log.contains("does not match its fingerprint"), "{log}");
    assert!(!log.contains(link.rsplit('/').next().unwrap()), "{log}");
}
