//! The receipt: its figures are those of the page and of the reckoning, to the minor unit.

use serde_json::Value;
use silkward::reckoning::money::{Line, Rounding, totals};

use super::stock::{self, BUYER, CALM, begin, hand_over, house};
use super::trade::{add_packs, set_terms, terms, usual_prices};
use crate::support::{Person, TestHouse, number};

/// Made with Python's decimal module and exact fractions: see `tests/oracles/README.md`.
const MONEY: &str = include_str!("../oracles/money.json");
/// Cases of both ways of rounding, taxes within and on top, and exact halves.
const CASES: [&str; 8] = ["money-15", "money-20", "money-25", "tie-2", "tie-6", "line-1", "line-8", "line-9"];

fn cents(minor: i64) -> String {
    format!("{}.{:02}", minor / 100, minor % 100)
}

/// A draft with a cohort for each line of the case, priced by hand.
async fn priced(house: &TestHouse, seller: &mut Person, lines: &[Line]) -> String {
    let address = begin(seller).await;
    let mut typed = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let cohort = stock::cohort(house, CALM, line.quantity).await;
        add_packs(seller, &address, cohort, &line.quantity.to_string(), "1").await.sent_to();
        typed.push(("line", (at + 1).to_string()));
        typed.push(("price", cents(i64::try_from(line.unit_minor).unwrap())));
    }
    let typed: Vec<(&str, &str)> = typed.iter().map(|(name, value)| (*name, value.as_str())).collect();
    seller.submit_at(&address, &format!("{address}/prices"), &typed).await.sent_to();
    address
}

#[tokio::test]
async fn page_receipt_and_reckoning_agree_with_the_reference_to_the_minor_unit() {
    let all: Value = serde_json::from_str(MONEY).unwrap();
    let cases = all["cases"].as_array().unwrap();
    for id in CASES {
        let case = cases.iter().find(|case| case["id"] == id).unwrap();
        let (input, expected) = (&case["input"], &case["expected"]);
        let lines: Vec<Line> = serde_json::from_value(input["lines"].clone()).unwrap();
        let (rate, included) = (input["tax_percent"].as_str().unwrap(), input["prices_include_tax"].as_bool().unwrap());
        let rounding = input["rounding"].as_str().unwrap_or("document");
        let reckoned = totals(&lines, rate.parse().unwrap(), included, rounding.parse::<Rounding>().unwrap()).unwrap();
        let of = |name: &str| expected[name].as_i64().unwrap();
        assert_eq!(
            (reckoned.net_minor, reckoned.tax_minor, reckoned.gross_minor),
            (of("net_minor"), of("tax_minor"), of("gross_minor")),
            "{id}"
        );
        let house = house().await;
        set_terms(&house, &[("tax_percent", rate), ("prices_include_tax", if included { "yes" } else { "no" }), ("rounding", rounding)])
            .await;
        let mut seller = house.person("Cyprian", "counter").await;
        let address = priced(&house, &mut seller, &lines).await;
        let (net, tax, gross) = (cents(of("net_minor")), cents(of("tax_minor")), cents(of("gross_minor")));
        let page = seller.get(&address).await.ok();
        page.says(&format!("Net {net} VAT {rate} % {tax} Total {gross} EUR"));
        hand_over(&mut seller, &address, "").await.sent_to();
        let receipt: i64 = number(&house, "SELECT id FROM paper WHERE kind = 'receipt'").await;
        let shown = seller.get(&format!("/papers/{receipt}?size=letter")).await.ok();
        shown.says(&format!("Net, without VAT {net} VAT {rate} % {tax} Total {gross} EUR")).says("Grammostola pulchra").says(BUYER[0]);
    }
}

#[tokio::test]
async fn a_receipt_says_who_sold_what_to_whom_and_nothing_of_payments() {
    let house = house().await;
    let mut owner = set_terms(&house, &[]).await;
    owner
        .submit(
            "/staff/site",
            &[
                ("name", "The Silk House"),
                ("address", "Mill Lane 1\nWend"),
                ("zone", "UTC"),
                ("agitated_open_hours", "24"),
                ("agitated_hands_in_days", "3"),
                ("version", "1"),
            ],
        )
        .await
        .sent_to();
    let mut seller = house.person("Cyprian", "counter").await;
    usual_prices(&house, &mut seller).await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    let animal = stock::animal(&house, CALM).await;
    let address = begin(&mut seller).await;
    stock::add_animal(&house, &mut seller, &address, animal).await;
    add_packs(&mut seller, &address, cohort, "8", "5").await.sent_to();
    add_packs(&mut seller, &address, cohort, "3", "1").await.sent_to();
    seller.submit_at(&address, &format!("{address}/prices"), &[("line", "2"), ("price", "18")]).await.sent_to();
    hand_over(&mut seller, &address, "").await.sent_to();
    let id = number(&house, "SELECT id FROM paper WHERE kind = 'receipt'").await;
    let shown = seller.get(&format!("/papers/{id}")).await.ok();
    shown
        .says("Receipt")
        .says("R-2026-0001")
        .says("The Silk House")
        .says("Mill Lane 1")
        .says("T-123")
        .says("Wednesday 15 April 2026")
        .says("8 packs of 5 out of cohort")
        .says("8 × 5 18.00 144.00")
        .says("List price 20.00; discount 16.00")
        .says("3 5.00 15.00")
        .says("49.90")
        .says("Total 208.90 EUR")
        .says("keeps no payments")
        .lacks("paid by")
        .lacks("amount due");
    // The buyer stands in the part that can be erased, and nowhere else.
    let (body, person): (Vec<u8>, Vec<u8>) =
        sqlx::query_as("SELECT body, part FROM paper JOIN paper_person ON paper_id = paper.id WHERE paper.id = ?")
            .bind(id)
            .fetch_one(&house.app.database.writer)
            .await
            .unwrap();
    let (body, person) = (String::from_utf8(body).unwrap(), String::from_utf8(person).unwrap());
    assert!(!body.contains(BUYER[0]) && !body.contains(BUYER[2]) && person.contains(BUYER[0]) && person.contains(BUYER[2]));
    // It stays as it is whatever becomes of the terms.
    let before = seller.get(&format!("/papers/{id}")).await.ok().bytes;
    owner.submit("/prices/terms", &terms(&[("tax_percent", "7"), ("tax_name", "GST"), ("version", "1")])).await.sent_to();
    assert_eq!(seller.get(&format!("/papers/{id}")).await.ok().bytes, before);
    seller.get(&address).await.ok().says("R-2026-0001");
}

#[tokio::test]
async fn receipts_are_numbered_without_a_gap_and_only_where_there_are_prices() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    stock::done(&house, &mut seller).await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper WHERE kind = 'receipt'").await, 0);
    usual_prices(&house, &mut seller).await;
    stock::done(&house, &mut seller).await;
    // One that is refused uses no number up.
    let cohort = stock::cohort(&house, super::stock::RISKY, 20).await;
    let address = begin(&mut seller).await;
    let animal = stock::animal(&house, CALM).await;
    stock::add_animal(&house, &mut seller, &address, animal).await;
    add_packs(&mut seller, &address, cohort, "2", "1").await.sent_to();
    seller.get(&address).await.ok().says("1 line has no price yet");
    hand_over(&mut seller, &address, "").await.is(422).says("has no price, and others have");
    seller.submit_at(&address, &format!("{address}/prices"), &[("line", "4"), ("price", "0")]).await.sent_to();
    hand_over(&mut seller, &address, "").await.sent_to();
    let numbers: Vec<String> = sqlx::query_scalar("SELECT number FROM paper WHERE kind = 'receipt' ORDER BY id")
        .fetch_all(&house.app.database.writer)
        .await
        .unwrap();
    assert_eq!(numbers, ["R-2026-0001", "R-2026-0002"]);
    let unreceipted =
        "UPDATE handover SET state = 'done', day = '2026-04-15', done_at = '2026-04-15T12:00:00+00:00', done_by = 1 WHERE state = 'draft'";
    let address = begin(&mut seller).await;
    let animal = stock::animal(&house, CALM).await;
    stock::add_animal(&house, &mut seller, &address, animal).await;
    assert!(sqlx::query(unreceipted).execute(&house.app.database.writer).await.is_err());
    for change in [
        "UPDATE sale_line SET unit_minor = 1 WHERE handover_id = 2",
        "DELETE FROM sale_line WHERE handover_id = 2",
        "INSERT INTO sale_line (handover_id, animal_id) VALUES (2, 3)",
    ] {
        assert!(sqlx::query(change).execute(&house.app.database.writer).await.is_err(), "{change}");
    }
}

#[tokio::test]
async fn names_of_any_script_stand_on_the_receipt_as_text() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    usual_prices(&house, &mut seller).await;
    for (at, name) in ["شركة العناكب", "李小龍蜘蛛館", "<script>alert(1)</script>"].into_iter().enumerate() {
        let address = seller.submit("/handovers/new", &[("name", name)]).await.sent_to();
        let animal = stock::animal(&house, CALM).await;
        stock::add_animal(&house, &mut seller, &address, animal).await;
        hand_over(&mut seller, &address, "").await.sent_to();
        let id = number(&house, "SELECT MAX(id) FROM paper WHERE kind = 'receipt'").await;
        let page = seller.get(&format!("/papers/{id}")).await.ok();
        page.says(name).says(&format!("R-2026-000{}", at + 1));
    }
}
