//! What was issued stays as issued, byte for byte, and a change from outside is noticed.

use silkward::house::assets;
use silkward::house::audit::Change;
use silkward::house::qr;
use silkward::house::secrets::sha256_hex;

use crate::sales::stock::{self, CALM, house};
use crate::support::{Person, TestHouse};

/// Papers of edition 1 must look the same for ever. If this fails, put the file back and make `sheet-2.css` instead.
#[test]
fn the_style_sheet_of_edition_1_is_never_edited() {
    assert_eq!(assets::address("sheet-1.css"), "/static/sheet-1-d0ddecfbe9306139.css");
}

/// The same holds for the strip and for the picture that the QR library draws.
#[test]
fn the_strip_and_the_code_of_edition_1_stay() {
    let strip = include_bytes!("../../templates/papers/strip-1.html");
    assert_eq!(sha256_hex(strip), "e3abd92b0cab604f43f64edfe57e10d21abcdae00f70c06497267d0af0a008e9");
    let code = qr::svg("https://book.example.org/sheet/abcdefghijklmnopqrstuvwxyz0").unwrap();
    assert_eq!(sha256_hex(code.as_bytes()), "5ca0a58deba752e275d592177fe2fa4506a56ce6742514671d6db0beb323d094");
}

async fn shown(person: &mut Person) -> Vec<u8> {
    person.get("/papers/1").await.ok().bytes
}

async fn everything_changes(house: &TestHouse) {
    let species = stock::species(house, CALM).await;
    let mut write = house.app.write(None).await.unwrap();
    let care = silkward::species::starter::library().unwrap().into_iter().next().unwrap().care;
    silkward::species::store::insert_profile(&mut write, species, "warmer", &care).await.unwrap();
    sqlx::query("UPDATE species SET temper = 'changed', law_note = 'changed' WHERE id = ?")
        .bind(species)
        .execute(write.db())
        .await
        .unwrap();
    sqlx::query("UPDATE site SET name = 'Another name', address = 'Another place', zone = 'Pacific/Auckland'")
        .execute(write.db())
        .await
        .unwrap();
    write.commit(Change::new("test.changed", "house", ""), "/").await.unwrap();
    house.app.refresh_site().await.unwrap();
    house.set_clock("2029-12-31T23:30:00Z");
}

#[tokio::test]
async fn a_reprint_is_the_same_whatever_has_changed_since() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    stock::done(&house, &mut seller).await;
    let first = shown(&mut seller).await;
    everything_changes(&house).await;
    let mut later = house.sign_in(seller.id()).await;
    assert_eq!(shown(&mut later).await, first);
    // A closed link and a new one leave the printed code as printed.
    later.submit_at("/handovers/1", "/papers/1/link", &[]).await.sent_to();
    assert_eq!(shown(&mut later).await, first);
    let mut lead = house.person("Ada", "lead").await;
    assert_eq!(shown(&mut lead).await, first);
}

#[tokio::test]
async fn the_fingerprint_is_that_of_the_original() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = stock::done(&house, &mut seller).await;
    let link = super::buyer::link(&mut seller, &address).await;
    let original = house.visitor().get(&format!("{link}/original")).await.ok();
    assert_eq!(original.headers["content-type"], "text/html; charset=utf-8");
    let fingerprint = sha256_hex(&original.bytes);
    seller.get("/papers/1").await.ok().says(&fingerprint);
    assert!(original.text().starts_with("<!doctype html>"));
    assert_eq!(original.count("link, script, img, style"), 0);
}

#[tokio::test]
async fn bytes_changed_from_outside_are_not_shown() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = stock::done(&house, &mut seller).await;
    let link = super::buyer::link(&mut seller, &address).await;
    let writer = &house.app.database.writer;
    sqlx::query("DROP TRIGGER paper_keeps").execute(writer).await.unwrap();
    sqlx::query("UPDATE paper SET body = CAST(replace(CAST(body AS TEXT), 'mild', 'none') AS BLOB)").execute(writer).await.unwrap();
    seller.get("/papers/1").await.is(500).says("not as it was issued").says("S-2026-0001");
    house.visitor().get(&link).await.is(500).says("not as it was issued").lacks("Grammostola");
    house.visitor().get(&format!("{link}/original")).await.is(500).lacks("Grammostola");
}

/// Papers of edition 2 and sheets of labels must look the same for ever. If this fails, put the file back and make the next edition.
#[test]
fn the_styles_and_strips_of_edition_2_are_never_edited() {
    let strips = [
        include_bytes!("../../templates/papers/strip-2.html").as_slice(),
        include_bytes!("../../templates/papers/strip-2-de.html").as_slice(),
        include_bytes!("../../static/sheet-2.css").as_slice(),
        include_bytes!("../../static/labels-1.css").as_slice(),
    ];
    let expected = [
        "78e2762b1f257dcb9dd4c6439e1658f7a9b7a2e5245416c4ee69746684ac0440",
        "b5f34dd95c4f4f837efabd738a4b45f15dabaf6946881ce6d75fa3b6471a0a70",
        "830eb7f38166e2b185c2a4ba94596a241631dea6b433fae75f52911d91090186",
        "d9c8dafc965360524ee6242b0b60e24cf70e0d8dc97bf560f88c4d9d845b47c5",
    ];
    assert_eq!(strips.map(sha256_hex), expected);
}

/// The sizes of the pages must stay as well.
#[test]
fn the_sizes_of_pages_are_never_edited() {
    let addresses = ["page-a4.css", "page-letter.css"].map(assets::address);
    assert_eq!(addresses, ["/static/page-a4-ef0dba2fa961eeea.css", "/static/page-letter-599510dfe48d3458.css"]);
}
