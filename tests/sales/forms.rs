//! Bad input: what was typed stays, what to mend is said, nothing is written.

use super::stock::{self, CALM, begin, house};
use crate::support::number;

#[tokio::test]
async fn a_buyer_needs_a_name_and_nothing_typed_is_lost() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let long = "x".repeat(500);
    let fields = [("name", ""), ("contact", "two\nlines"), ("address", long.as_str()), ("note", "for Sunday")];
    let again = seller.submit("/handovers/new", &fields).await.is(422);
    assert_eq!(again.count(".mistakes li"), 3);
    again.says(&long).says("for Sunday");
    seller.submit("/handovers/new", &[("buyer", "99")]).await.is(422).says("not in the book");
    seller.submit("/handovers/new", &[("buyer", "abc")]).await.is(422).says("Choose one of the list");
    seller.submit("/handovers/new", &[("buyer", "1"), ("name", "Somebody")]).await.is(422).says("not both");
    seller.submit("/handovers/new", &[("name", "Somebody"), ("price", "1")]).await.is(400);
    seller.submit("/handovers/new", &[("name", "Nul\u{0}l")]).await.is(422);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM buyer").await + number(&house, "SELECT COUNT(*) FROM handover").await, 0);
}

#[tokio::test]
async fn a_known_buyer_gets_a_further_handover_and_corrections() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    begin(&mut seller).await;
    seller.submit_at("/handovers/new?buyer=1", "/handovers/new", &[("buyer", "1")]).await.sent_to();
    seller.get("/buyers/1").await.ok().says("Handover 1").says("Handover 2");
    let stale = [("name", "Other"), ("contact", ""), ("address", ""), ("version", "7")];
    seller.submit("/buyers/1/edit", &stale).await.is(409);
    let right = [("name", "Quill C."), ("contact", "c"), ("address", "here\r\nthere"), ("version", "1")];
    seller.submit("/buyers/1/edit", &right).await.sent_to();
    seller.get("/buyers/1").await.ok().says("Quill C.").says("there");
    seller.get("/buyers/77").await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM buyer").await, 1);
}

#[tokio::test]
async fn a_mistyped_tag_says_where() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let animal = stock::animal(&house, CALM).await;
    let tag = stock::tag(&house, animal).await;
    let address = begin(&mut seller).await;
    let to = format!("{address}/animals");
    let wrong = format!("X{}", &tag[1..]);
    let again = seller.submit_at(&address, &to, &[("tag", &wrong)]).await.is(422).says("is mistyped").says("character");
    assert_eq!(again.value("#tag"), wrong);
    let absent = silkward::reckoning::tag::from_serial(77_777);
    seller.submit_at(&address, &to, &[("tag", &absent)]).await.is(422).says("No animal has the tag");
    for tag in ["", "  ", "<b>x</b>", "999999999999999999999999999999999999999999"] {
        seller.submit_at(&address, &to, &[("tag", tag)]).await.is(422);
    }
    let spaced = format!(" {}-{} ", tag[..2].to_lowercase(), &tag[2..]);
    seller.submit_at(&address, &to, &[("tag", &spaced)]).await.sent_to();
    seller.submit_at(&address, &to, &[("tag", &tag)]).await.is(422).says("already on the list");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover_line").await, 1);
}

#[tokio::test]
async fn a_lot_is_a_number_that_is_there() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let address = begin(&mut seller).await;
    let to = format!("{address}/lots");
    let lot = format!("{cohort}-i2");
    seller.get(&address).await.ok().says("Grammostola pulchra").says("second instar · 30 free");
    for (chosen, quantity) in [
        ("", "5"),
        ("9-i2", "5"),
        ("1-i3", "5"),
        ("1-moon", "5"),
        (&lot, "0"),
        (&lot, "-3"),
        (&lot, "many"),
        (&lot, "31"),
        (&lot, "99999999999"),
    ] {
        let again = seller.submit_at(&address, &to, &[("lot", chosen), ("quantity", quantity)]).await.is(422);
        assert_eq!(again.value("#quantity"), quantity);
    }
    stock::add_lot(&mut seller, &address, cohort, "30").await;
    let again = seller.submit_at(&address, &to, &[("lot", &lot), ("quantity", "1")]).await.is(422).says("Only 30 are free of cohort");
    assert_eq!(again.value("#quantity"), "1");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover_line").await, 1);
}

#[tokio::test]
async fn more_of_the_same_lot_is_added_to_its_line() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let address = begin(&mut seller).await;
    stock::add_lot(&mut seller, &address, cohort, "5").await;
    stock::add_lot(&mut seller, &address, cohort, "6").await;
    let packs = [("lot", format!("{cohort}-i2")), ("quantity", "2".to_owned()), ("pack_of", "5".to_owned())];
    let packs: Vec<(&str, &str)> = packs.iter().map(|(name, value)| (*name, value.as_str())).collect();
    seller.submit_at(&address, &format!("{address}/add"), &packs).await.sent_to();
    assert_eq!(number(&house, "SELECT quantity FROM handover_line").await, 21);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_line").await, 2);
    stock::hand_over(&mut seller, &address, "").await.sent_to();
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'sold'").await, 21);
}

#[tokio::test]
async fn an_empty_list_is_not_handed_over() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    let to = format!("{address}/hand-over");
    seller.submit_at(&address, &to, &[("version", "1")]).await.is(422).says("Nothing is on this handover yet");
    seller.submit_at(&address, &to, &[("version", "soon")]).await.is(422);
    seller.get("/handovers/99").await.is(404);
    seller.get("/handovers/x").await.is(404);
    seller.submit_at(&address, "/handovers/99/hand-over", &[("version", "1")]).await.is(404);
}

#[tokio::test]
async fn what_is_typed_is_shown_as_text() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let name = "<script>alert(1)</script>\"'";
    let address = seller.submit("/handovers/new", &[("name", name), ("note", name)]).await.sent_to();
    let page = seller.get(&address).await.ok();
    assert_eq!(page.count("script:not([src])"), 0);
    page.says(name);
    let list = seller.get("/handovers").await.ok();
    assert_eq!(list.count("script:not([src])"), 0);
}
