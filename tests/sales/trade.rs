//! A house that sells at prices: its terms, a price list, and the steps of an order as a counter makes them.

use silkward::house::ids::CohortId;

use super::stock::{self, BUYER, CALM};
use crate::support::{Page, Person, TestHouse};

/// Euros with 20 % VAT within the prices.
pub const EUROS: [(&str, &str); 8] = [
    ("currency", "EUR"),
    ("tax_name", "VAT"),
    ("tax_percent", "20"),
    ("prices_include_tax", "yes"),
    ("rounding", "document"),
    ("tax_number", "T-123"),
    ("reserve_days", "7"),
    ("version", "0"),
];

/// The terms with some fields changed.
pub fn terms<'a>(changes: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    EUROS.iter().map(|field| changes.iter().find(|change| change.0 == field.0).copied().unwrap_or(*field)).collect()
}

/// An owner sets the terms.
pub async fn set_terms(house: &TestHouse, changes: &[(&str, &str)]) -> Person {
    let mut owner = house.person("Ona", "owner").await;
    owner.submit("/prices/terms", &terms(changes)).await.sent_to();
    owner
}

/// A price of a list: species, stage, from and to mm, sex, pack, amount.
pub type Row<'a> = (&'a str, &'a str, &'a str, &'a str, &'a str, &'a str, &'a str);

/// Begins a list, adds prices, and publishes it for today; gives its address.
pub async fn price_list(house: &TestHouse, seller: &mut Person, rows: &[Row<'_>]) -> String {
    let list = seller.submit("/prices", &[]).await.sent_to();
    for row in rows {
        add_price(house, seller, &list, *row).await.sent_to();
    }
    publish(seller, &list, "2026-04-15").await.sent_to();
    list
}

pub async fn add_price(house: &TestHouse, seller: &mut Person, list: &str, row: Row<'_>) -> Page {
    let (species, stage, from, to, sex, pack, amount) = row;
    let species = stock::species(house, species).await.to_string();
    let fields = [
        ("species", species.as_str()),
        ("stage", stage),
        ("from_mm", from),
        ("to_mm", to),
        ("sex", sex),
        ("pack_of", pack),
        ("amount", amount),
    ];
    seller.submit_at(list, &format!("{list}/add"), &fields).await
}

pub async fn publish(seller: &mut Person, list: &str, from: &str) -> Page {
    seller.submit_at(list, &format!("{list}/publish"), &[("valid_from", from)]).await
}

/// The usual list: singles at 5.00, packs of five at 20.00, animals of 50 to 80 mm at 49.90.
pub async fn usual_prices(house: &TestHouse, seller: &mut Person) -> String {
    let rows =
        [(CALM, "i2", "", "", "any", "1", "5.00"), (CALM, "i2", "", "", "any", "5", "20.00"), (CALM, "", "50", "80", "any", "1", "49.90")];
    price_list(house, seller, &rows).await
}

/// Begins an order of the canary buyer that keeps its stock until 22 April 2026; gives its address.
pub async fn order(seller: &mut Person) -> String {
    let [name, contact, address] = BUYER;
    let fields = [("name", name), ("contact", contact), ("address", address), ("way", "collection"), ("until", "2026-04-22")];
    seller.submit("/orders/new", &fields).await.sent_to()
}

/// Adds packs to an order or a handover.
pub async fn add_packs(seller: &mut Person, address: &str, cohort: CohortId, packs: &str, of: &str) -> Page {
    let lot = format!("{cohort}-i2");
    seller.submit_at(address, &format!("{address}/add"), &[("lot", &lot), ("quantity", packs), ("pack_of", of)]).await
}

/// Adds tags to an order or a handover.
pub async fn add_tags(seller: &mut Person, address: &str, tags: &str) -> Page {
    seller.submit_at(address, &format!("{address}/add"), &[("tag", tags)]).await
}

/// Makes the handover of an order; gives its address.
pub async fn to_handover(seller: &mut Person, order: &str) -> String {
    seller.submit_at(order, &format!("{order}/hand-over"), &[]).await.sent_to()
}

/// Scans codes into the box.
pub async fn scan(seller: &mut Person, handover: &str, fields: &[(&str, &str)]) -> Page {
    let page = format!("{handover}/pack");
    seller.submit_at(&page, &page, fields).await
}
