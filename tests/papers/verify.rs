//! The page that tells whether a paper is as it was issued: for anybody, and nothing but that.

use silkward::papers::model::PaperKind;

use super::issued::{newest, risky_done};
use crate::sales::stock::{BUYER, CALM, RISKY, house};
use crate::support::TestHouse;

async fn paper(house: &TestHouse, kind: PaperKind) -> (String, String) {
    let id = newest(house, kind).await;
    sqlx::query_as("SELECT number, fingerprint FROM paper WHERE id = ?").bind(id).fetch_one(&house.app.database.writer).await.unwrap()
}

#[tokio::test]
async fn the_printed_code_opens_a_page_that_says_unchanged_and_names_nobody() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    risky_done(&house, &mut seller).await;
    let (number, fingerprint) = paper(&house, PaperKind::OriginStatement).await;
    let printed = seller.get(&format!("/papers/{}", newest(&house, PaperKind::OriginStatement).await)).await.ok();
    let address = format!("/verify/{number}/{fingerprint}");
    printed.says(&format!("{}{address}", crate::support::URL));
    let mut visitor = house.visitor();
    let page = visitor.get(&address).await.ok();
    assert_eq!(page.headers["referrer-policy"], "no-referrer");
    assert!(page.headers["x-robots-tag"].to_str().unwrap().contains("noindex"));
    assert!(!page.headers.contains_key("set-cookie"));
    assert_eq!(page.count("script, img, nav"), 0);
    let page = page
        .says("issued by this house, unchanged")
        .says(&number)
        .says("statement of origin")
        .says("Wednesday 15 April 2026")
        .says("Its whole fingerprint fits");
    for secret in BUYER.iter().chain(&[CALM, RISKY, "Cyprian", "A breeder"]) {
        assert!(!page.text().contains(secret), "{secret}");
    }
}

#[tokio::test]
async fn number_and_fingerprint_may_be_typed_short_spaced_and_in_capitals() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    risky_done(&house, &mut seller).await;
    let (number, fingerprint) = paper(&house, PaperKind::HandoverNote).await;
    let mut visitor = house.visitor();
    visitor.get("/verify").await.ok().says("Type the number").says("sha256sum").lacks("Not as issued");
    let typed =
        format!("/verify?number=%20{}&fingerprint={}+{}", number.to_lowercase(), fingerprint[..8].to_uppercase(), &fingerprint[8..16]);
    visitor.get(&typed).await.ok().says("unchanged").says("The first 16 characters of the fingerprint were compared").says(&fingerprint);
    visitor.get(&format!("/verify?number={number}&fingerprint={}", &fingerprint[..15])).await.is(422).says("the first 16 of them at least");
}

#[tokio::test]
async fn what_was_never_issued_and_what_does_not_fit_are_answered_alike() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    risky_done(&house, &mut seller).await;
    let (number, fingerprint) = paper(&house, PaperKind::OriginStatement).await;
    let wrong = format!("{}{}", if fingerprint.starts_with('0') { '1' } else { '0' }, &fingerprint[1..]);
    let mut visitor = house.visitor();
    let blank = |page: crate::support::Page, number: &str, typed: &str| page.text().replace(number, "N").replace(typed, "F");
    let unfit = blank(visitor.get(&format!("/verify/{number}/{wrong}")).await.is(404), &number, &wrong);
    let unknown = blank(visitor.get(&format!("/verify/C-2026-0999/{wrong}")).await.is(404), "C-2026-0999", &wrong);
    assert_eq!(unfit, unknown);
    assert!(unfit.contains("Not as issued") && !unfit.contains("statement of origin"));
    let long = "a".repeat(3000);
    for malformed in [
        "/verify/x/y",
        "/verify/C-26-1/00",
        "/verify/%ff/%00",
        &format!("/verify/C-2026-0001/{long}"),
        "/verify/C-2026-00000001234567890123/0011223344556677",
    ] {
        let page = visitor.get(malformed).await.is(422);
        assert_eq!(page.headers["referrer-policy"], "no-referrer");
        page.says("Not saved yet").says("as it stands on the paper").lacks("unchanged");
    }
    for script in ["<script>alert(1)</script>", "\"><svg onload=alert(1)>"] {
        let typed: String = url::form_urlencoded::byte_serialize(script.as_bytes()).collect();
        assert_eq!(visitor.get(&format!("/verify?number={typed}&fingerprint={typed}")).await.is(422).count("script, svg"), 0);
    }
}

#[tokio::test]
async fn a_copy_that_was_changed_is_told_only_to_whoever_holds_the_paper() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    risky_done(&house, &mut seller).await;
    let (number, fingerprint) = paper(&house, PaperKind::OriginStatement).await;
    let writer = &house.app.database.writer;
    sqlx::query("DROP TRIGGER paper_keeps").execute(writer).await.unwrap();
    sqlx::query("UPDATE paper SET body = CAST(replace(CAST(body AS TEXT), 'source', 'Source') AS BLOB)").execute(writer).await.unwrap();
    let mut visitor = house.visitor();
    visitor.get(&format!("/verify/{number}/{fingerprint}")).await.is(500).says("the copy kept here was changed").lacks("unchanged");
    visitor.get(&format!("/verify/{number}/{}", "0".repeat(64))).await.is(404).lacks("was changed");
}

#[tokio::test]
async fn a_paper_whose_buyer_was_erased_says_so_and_still_shows_its_rest() {
    let house = house().await;
    let mut seller = house.person("Olga", "owner counter").await;
    risky_done(&house, &mut seller).await;
    let (number, fingerprint) = paper(&house, PaperKind::HandoverNote).await;
    assert!(sqlx::query("DELETE FROM paper_person").execute(&house.app.database.writer).await.is_err());
    seller.submit("/buyers/1/erase", &[("sure", "yes")]).await.sent_to();
    let mut visitor = house.visitor();
    visitor
        .get(&format!("/verify/{number}/{fingerprint}"))
        .await
        .ok()
        .says("the part that named the buyer was erased")
        .says("Wednesday 15 April 2026")
        .lacks("unchanged");
    let id = newest(&house, PaperKind::HandoverNote).await;
    seller.get(&format!("/papers/{id}")).await.ok().says("What named the buyer was erased").lacks(BUYER[0]);
}
