//! Credit notes: right to the minor unit, numbered without gaps, never more than was charged.

use super::stock::{self, BUYER, CALM, begin, hand_over, house};
use super::trade::{set_terms, usual_prices};
use crate::support::{Page, Person, TestHouse, number};

/// One line of the form: line, for how many, why, charged, amount.
type Credit<'a> = (&'a str, &'a str, &'a str, &'a str, &'a str);

async fn credit(seller: &mut Person, address: &str, tax: &str, lines: &[Credit<'_>]) -> Page {
    let mut fields = vec![("tax", tax), ("note", "")];
    for (line, quantity, why, charged, amount) in lines {
        fields.extend([("line", *line), ("quantity", *quantity), ("why", *why), ("charged", *charged), ("amount", *amount)]);
    }
    seller.submit(&format!("{address}/credit"), &fields).await
}

/// Twenty spiderlings at 5.00, handed over; gives the address.
async fn sold(house: &TestHouse, seller: &mut Person) -> String {
    let cohort = stock::cohort(house, CALM, 60).await;
    let address = begin(seller).await;
    stock::add_lot(seller, &address, cohort, "20").await;
    hand_over(seller, &address, "").await.sent_to()
}

async fn credited(house: &TestHouse) -> (i64, i64, i64) {
    sqlx::query_as("SELECT SUM(net_minor), SUM(tax_minor), SUM(gross_minor) FROM credit_note")
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap()
}

#[tokio::test]
async fn what_was_charged_is_credited_with_its_tax_and_no_cent_more() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    usual_prices(&house, &mut seller).await;
    let address = sold(&house, &mut seller).await;
    seller.get(&format!("{address}/credit")).await.ok().says("It refers to receipt R-2026-0001").says("Charged 100.00, left 100.00");
    credit(&mut seller, &address, "20", &[("1", "3", "dead-on-arrival", "", "100.01")]).await.is(422).says("more than was charged");
    let audits = number(&house, "SELECT COUNT(*) FROM audit").await;
    credit(&mut seller, &address, "20", &[("1", "3", "dead-on-arrival", "", "15.00")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, audits + 1);
    // 15.00 with 20 % within: 12.50 and 2.50.
    assert_eq!(credited(&house).await, (1250, 250, 1500));
    seller.get(&address).await.ok().says("Credit note D-2026-0001 : 15.00 EUR");
    credit(&mut seller, &address, "20", &[("1", "17", "returned", "", "85.01")]).await.is(422).says("than is left of that");
    credit(&mut seller, &address, "20", &[("1", "17", "returned", "", "85,00")]).await.sent_to();
    assert_eq!(credited(&house).await, (8333, 1667, 10000));
    credit(&mut seller, &address, "20", &[("1", "1", "goodwill", "", "0.01")]).await.is(422);
    let numbers: Vec<String> = sqlx::query_scalar("SELECT number FROM paper WHERE kind = 'credit-note' ORDER BY id")
        .fetch_all(&house.app.database.writer)
        .await
        .unwrap();
    assert_eq!(numbers, ["D-2026-0001", "D-2026-0002"]);
}

// Thirds of 100.00 without tax at 7.7 %: each by itself would round to 2.57 three times, which is 1 more than the 7.70 that were charged.
#[tokio::test]
async fn notes_in_parts_give_back_the_tax_of_the_whole() {
    let house = house().await;
    set_terms(&house, &[("tax_percent", "7.7"), ("prices_include_tax", "no")]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    usual_prices(&house, &mut seller).await;
    let address = sold(&house, &mut seller).await;
    for amount in ["33.33", "33.33", "33.34"] {
        credit(&mut seller, &address, "7.7", &[("1", "6", "injured", "", amount)]).await.sent_to();
    }
    assert_eq!(credited(&house).await, (10_000, 770, 10_770));
}

#[tokio::test]
async fn the_paper_names_the_buyer_in_its_own_part_and_refers_to_the_receipt() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    usual_prices(&house, &mut seller).await;
    let address = sold(&house, &mut seller).await;
    credit(&mut seller, &address, "20", &[("1", "2", "returned", "", "10.00")]).await.sent_to();
    let (paper, title, body): (i64, String, Vec<u8>) =
        sqlx::query_as("SELECT id, title, body FROM paper WHERE kind = 'credit-note'").fetch_one(&house.app.database.writer).await.unwrap();
    let body = String::from_utf8(body).unwrap();
    assert!(BUYER.iter().all(|canary| !body.contains(canary) && !title.contains(canary)));
    let shown = seller.get(&format!("/papers/{paper}")).await.ok();
    shown.says(BUYER[0]).says("Receipt R-2026-0001, handover 1").says("Total credited 10.00 EUR").says("brought back").says("VAT 20 %");
    let trail: Vec<String> =
        sqlx::query_scalar("SELECT subject || before || after FROM audit").fetch_all(&house.app.database.writer).await.unwrap();
    assert!(BUYER.iter().all(|canary| !trail.join("\n").contains(canary)));
    let writer = &house.app.database.writer;
    for change in [
        "UPDATE credit_note SET gross_minor = 1",
        "DELETE FROM credit_line",
        "INSERT INTO credit_note VALUES (1, 1, 'EUR', '20', 1, 8000, 2000, 10001)",
    ] {
        assert!(sqlx::query(change).execute(writer).await.is_err(), "{change}");
    }
    let more = "INSERT INTO credit_line (paper_id, handover_line_id, quantity, why, charged_minor, amount_minor) SELECT paper_id, 1, 1, 'goodwill', 10000, 9001 FROM credit_note";
    sqlx::query("INSERT INTO credit_note SELECT 1, handover_id, currency, tax_percent, prices_include_tax, 1, 0, 1 FROM credit_note")
        .execute(writer)
        .await
        .unwrap();
    assert!(sqlx::query(more).execute(writer).await.unwrap_err().to_string().contains("more than was charged"));
}

#[tokio::test]
async fn without_prices_the_counter_says_what_was_charged_and_keeps_to_it() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = sold(&house, &mut seller).await;
    seller.get(&format!("{address}/credit")).await.ok().says("no receipt").says("Charged for the line");
    credit(&mut seller, &address, "20", &[("1", "1", "goodwill", "", "5")]).await.is(422).says("Enter a price in figures");
    credit(&mut seller, &address, "20", &[("1", "1", "goodwill", "40", "5")]).await.sent_to();
    seller.get(&format!("{address}/credit")).await.ok().says("Charged 40.00, credited 5.00, left 35.00");
    credit(&mut seller, &address, "20", &[("1", "1", "goodwill", "90", "36")]).await.is(422);
    credit(&mut seller, &address, "19", &[("1", "1", "goodwill", "", "35")]).await.is(422).says("all carry the same");
}

#[tokio::test]
async fn bad_amounts_are_told_and_nothing_is_issued() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = sold(&house, &mut seller).await;
    seller.get(&format!("{address}/credit")).await.ok().says("no currency yet");
    set_terms(&house, &[]).await;
    for (quantity, why, amount, tax) in [
        ("1", "returned", "1e12", "20"),
        ("1", "returned", "-5", "20"),
        ("1", "returned", "0", "20"),
        ("1", "returned", "5.005", "20"),
        ("21", "returned", "5", "20"),
        ("0", "returned", "5", "20"),
        ("1", "stolen", "5", "20"),
        ("1", "returned", "5", "120"),
        ("1", "returned", "", "20"),
    ] {
        let again = credit(&mut seller, &address, tax, &[("1", quantity, why, "100", amount)]).await.is(422);
        assert_eq!(again.value("#amount-1"), amount);
    }
    let draft = begin(&mut seller).await;
    seller.get(&format!("{draft}/credit")).await.is(409);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper WHERE kind = 'credit-note'").await, 0);
}
