//! Currency, tax, price lists, and what is typed as a price.

use silkward::house::money::Currency;

use super::stock::{self, CALM, RISKY, house};
use super::trade::{self, add_packs, add_price, publish, set_terms, terms, usual_prices};
use crate::support::number;

/// Decimals as ISO 4217 lists them (minor units: EUR 2, JPY 0, KRW 0, KWD 3, TND 3).
#[test]
fn currencies_have_the_decimals_of_iso_4217() {
    for (code, decimals) in [("EUR", 2), ("gbp", 2), ("USD", 2), ("JPY", 0), ("KRW", 0), ("KWD", 3), ("TND", 3)] {
        assert_eq!(Currency::of(code).map(|currency| currency.decimals), Some(decimals), "{code}");
    }
    for none in ["", "EU", "EURO", "XXX", "€"] {
        assert_eq!(Currency::of(none), None, "{none}");
    }
}

#[test]
fn a_price_is_read_as_people_type_it_and_written_one_way() {
    let (euro, yen, dinar) = (Currency::of("EUR").unwrap(), Currency::of("JPY").unwrap(), Currency::of("KWD").unwrap());
    for typed in ["12.50", "12,50", " 12.5 ", "EUR 12.50", "12.50 EUR", "12,50 eur"] {
        assert_eq!(euro.read(typed), Ok(1250), "{typed}");
    }
    assert_eq!(euro.read("1 250"), Ok(125_000));
    assert_eq!(euro.read("1\u{202f}250,00"), Ok(125_000));
    assert_eq!(euro.read("0"), Ok(0));
    assert_eq!(yen.read("1250"), Ok(1250));
    assert_eq!(dinar.read("1.250"), Ok(1250));
    for typed in [
        "",
        "-1",
        "−1",
        "1e12",
        "NaN",
        "inf",
        "12.505",
        "12.",
        ".5",
        "1,250.00",
        "12.5.0",
        "0x10",
        "１２",
        "99999999999999999999",
        "1000000.01",
    ] {
        assert!(euro.read(typed).is_err(), "{typed}");
    }
    assert_eq!(yen.read("12.5"), Err("JPY has no decimals. Enter a whole number, such as 12.".to_owned()));
    assert!(euro.read("1000000.01").unwrap_err().contains("over 1000000.00 EUR"));
    assert_eq!((euro.amount(&1250), yen.amount(&1250), dinar.amount(&1250)), ("12.50 EUR".into(), "1250 JPY".into(), "1.250 KWD".into()));
    assert_eq!(euro.amount(&-5), "−0.05 EUR");
}

#[tokio::test]
async fn only_an_owner_sets_currency_and_tax_and_mistakes_are_all_named() {
    let house = house().await;
    let mut counter = house.person("Cyprian", "counter").await;
    counter.get("/prices/terms").await.is(403);
    counter.get("/prices").await.ok().says("There are no prices until an owner has set");
    counter.submit("/prices", &[]).await.is(409).says("no currency yet");
    let mut owner = house.person("Ona", "owner").await;
    let wrong = terms(&[("currency", "EURO"), ("tax_percent", "-5"), ("reserve_days", "0"), ("tax_name", "")]);
    let page = owner.submit("/prices/terms", &wrong).await.is(422);
    assert_eq!(page.count(".mistakes li"), 4);
    assert_eq!(page.value("#currency"), "EURO");
    for rate in ["20%", "101", "1e1", "NaN", "7.1234567"] {
        owner.submit("/prices/terms", &terms(&[("tax_percent", rate)])).await.is(422);
    }
    owner.submit("/prices/terms", &terms(&[("tax_percent", "7,7")])).await.sent_to();
    owner.get("/prices").await.ok().says("7.7 %");
    let stale = owner.submit("/prices/terms", &terms(&[])).await.is(422);
    stale.says("There now stand: EUR, VAT 7.7 %");
    assert_eq!(number(&house, "SELECT version FROM trade_terms").await, 1);
}

#[tokio::test]
async fn a_published_list_stays_readable_and_a_new_one_takes_its_place() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    let first = usual_prices(&house, &mut seller).await;
    let second = seller.submit("/prices", &[]).await.sent_to();
    let draft = seller.get(&second).await.ok();
    assert_eq!(draft.count("table input[name=amount]"), 3);
    let ids: Vec<i64> =
        sqlx::query_scalar("SELECT id FROM price WHERE list_id = 2 ORDER BY id").fetch_all(&house.app.database.writer).await.unwrap();
    let ids: Vec<String> = ids.iter().map(ToString::to_string).collect();
    let typed = [
        ("price", ids[0].as_str()),
        ("amount", "6,50"),
        ("price", ids[1].as_str()),
        ("amount", "1e12"),
        ("price", ids[2].as_str()),
        ("amount", "NaN"),
    ];
    let again = seller.submit_at(&second, &format!("{second}/change"), &typed).await.is(422);
    assert!(again.text().contains("value=\"1e12\"") && again.text().contains("value=\"6,50\""));
    let typed = [("price", ids[0].as_str()), ("amount", "6,50"), ("price", ids[1].as_str()), ("amount", "")];
    seller.submit_at(&second, &format!("{second}/change"), &typed).await.sent_to();
    seller.get("/prices").await.ok().says("5.00 EUR").lacks("6.50 EUR");
    publish(&mut seller, &second, "2026-04-14").await.is(422).says("from 2026-04-15 on");
    publish(&mut seller, &second, "2026-04-20").await.sent_to();
    seller.get("/prices").await.ok().says("5.00 EUR").says("comes").lacks("6.50 EUR");
    house.set_clock("2026-04-20T12:00:00Z");
    let mut seller = house.sign_in(seller.id()).await;
    seller.get("/prices").await.ok().says("6.50 EUR").says("was replaced").lacks(" 5.00 EUR");
    seller.get(&first).await.ok().says("5.00 EUR");
    add_price(&house, &mut seller, &first, (CALM, "i3", "", "", "any", "1", "9")).await.is(409).says("stays as it is");
    for change in [
        "UPDATE price SET amount_minor = 1 WHERE list_id = 1",
        "DELETE FROM price WHERE list_id = 1",
        "DELETE FROM price_list WHERE id = 1",
        "UPDATE price_list SET valid_from = '2020-01-01' WHERE id = 1",
    ] {
        assert!(sqlx::query(change).execute(&house.app.database.writer).await.is_err(), "{change}");
    }
}

#[tokio::test]
async fn a_price_is_for_a_stage_or_for_a_size_and_once_on_a_list() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    let list = seller.submit("/prices", &[]).await.sent_to();
    publish(&mut seller, &list, "2026-04-15").await.is(422).says("no price on this list yet");
    for (row, says) in [
        ((CALM, "", "", "", "any", "1", "5"), "Choose a stage, or"),
        ((CALM, "i2", "10", "20", "any", "1", "5"), "not both"),
        ((CALM, "", "20", "10", "any", "1", "5"), "less than 20"),
        ((CALM, "i2", "", "", "both", "1", "5"), "Choose one of the list"),
        ((CALM, "i2", "", "", "any", "0", "5"), "from 1 to 1000"),
        ((CALM, "i2", "", "", "any", "1", "1000000000000"), "is not taken"),
    ] {
        let again = add_price(&house, &mut seller, &list, row).await.is(422).says(says);
        assert_eq!(again.value("#amount"), row.6);
    }
    add_price(&house, &mut seller, &list, (CALM, "i2", "", "", "any", "1", "5")).await.sent_to();
    add_price(&house, &mut seller, &list, (CALM, "i2", "", "", "any", "1", "6")).await.is(422).says("a price for the same");
    add_price(&house, &mut seller, &list, (CALM, "i2", "", "", "any", "5", "6")).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM price").await, 2);
}

#[tokio::test]
async fn the_nearest_price_is_taken() {
    let house = house().await;
    set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    let rows = [
        (CALM, "i6", "", "", "any", "1", "30"),
        (CALM, "", "0", "400", "any", "1", "40"),
        (CALM, "", "50", "70", "any", "1", "50"),
        (CALM, "", "0", "400", "female", "1", "90"),
    ];
    trade::price_list(&house, &mut seller, &rows).await;
    let unsexed = stock::animal(&house, CALM).await;
    let female = stock::animal(&house, CALM).await;
    sqlx::query("UPDATE animal SET sex = 'female', sex_basis = 'exuvium' WHERE id = ?")
        .bind(female)
        .execute(&house.app.database.writer)
        .await
        .ok();
    let other = stock::animal(&house, RISKY).await;
    let order = trade::order(&mut seller).await;
    for animal in [unsexed, female, other] {
        let tag = stock::tag(&house, animal).await;
        trade::add_tags(&mut seller, &order, &tag).await.sent_to();
    }
    let prices: Vec<Option<i64>> =
        sqlx::query_scalar("SELECT unit_minor FROM sale_line ORDER BY id").fetch_all(&house.app.database.writer).await.unwrap();
    let sex: String =
        sqlx::query_scalar("SELECT sex FROM animal WHERE id = ?").bind(female).fetch_one(&house.app.database.writer).await.unwrap();
    assert_eq!(sex, "female");
    assert_eq!(prices, [Some(5000), Some(9000), None]);
}

#[tokio::test]
async fn another_currency_waits_until_open_prices_are_done_with() {
    let house = house().await;
    let mut owner = set_terms(&house, &[]).await;
    let mut seller = house.person("Cyprian", "counter").await;
    usual_prices(&house, &mut seller).await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let order = trade::order(&mut seller).await;
    add_packs(&mut seller, &order, cohort, "2", "1").await.sent_to();
    let yen = terms(&[("currency", "JPY"), ("version", "1")]);
    owner.submit("/prices/terms", &yen).await.is(422).says("have prices in the present currency");
    seller.submit_at(&order, &format!("{order}/cancel"), &[]).await.sent_to();
    owner.submit("/prices/terms", &yen).await.sent_to();
    // A list in the old currency holds no more.
    seller.get("/prices").await.ok().lacks("What holds today");
}
