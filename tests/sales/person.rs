//! What is given to a person who asks for their data: all of it, and nobody else's. The inventory names every table.

use std::collections::{BTreeMap, BTreeSet};

use silkward::sales::model::inventory::INVENTORY;
use silkward::sales::store::person::TABLES;

use super::stock::{self, CALM, house};
use crate::support::{TestHouse, number};

/// Tables that lead to a buyer by way of something that is not the buyer's: they tell of the house's stock.
const OF_THE_HOUSE: [(&str, &str); 1] =
    [("recall", "what the house found in its own animals; its rows that concern a buyer are told of by themselves")];

/// Every table from which references lead to a buyer, and those that hold text of their own about one.
async fn leading_to_buyers(house: &TestHouse) -> BTreeSet<String> {
    let mut db = house.app.database.reader.acquire().await.unwrap();
    let tables: Vec<String> = sqlx::query_scalar("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
        .fetch_all(&mut *db)
        .await
        .unwrap();
    let mut names: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for table in &tables {
        let named: Vec<String> =
            sqlx::query_scalar("SELECT \"table\" FROM pragma_foreign_key_list(?)").bind(table).fetch_all(&mut *db).await.unwrap();
        names.insert(table.clone(), named.into_iter().collect());
        let columns: Vec<String> =
            sqlx::query_scalar("SELECT name FROM pragma_table_info(?)").bind(table).fetch_all(&mut *db).await.unwrap();
        if columns.iter().any(|column| column.starts_with("buyer") && table != "site") {
            names.get_mut(table).unwrap().insert("buyer".to_owned());
        }
    }
    let mut reached = BTreeSet::from(["buyer".to_owned()]);
    loop {
        let more: Vec<String> = names
            .iter()
            .filter(|(table, named)| !reached.contains(*table) && named.iter().any(|name| reached.contains(name)))
            .filter(|(table, _)| !OF_THE_HOUSE.iter().any(|(known, _)| known == table))
            .map(|(table, _)| table.clone())
            .collect();
        if more.is_empty() {
            return reached;
        }
        reached.extend(more);
    }
}

#[tokio::test]
async fn the_inventory_and_the_export_name_every_table_that_tells_of_a_buyer() {
    let house = TestHouse::start().await;
    let listed: BTreeSet<String> = INVENTORY.iter().map(|kept| kept.table.to_owned()).collect();
    let exported: BTreeSet<String> = TABLES.iter().map(|(table, _)| (*table).to_owned()).collect();
    let leading = leading_to_buyers(&house).await;
    assert!(leading.len() >= 10, "{leading:?}");
    assert_eq!(listed, leading, "the inventory on the left, the schema on the right");
    assert_eq!(exported, listed, "the export on the left, the inventory on the right");
    for kept in INVENTORY {
        assert!([kept.what, kept.holds, kept.purpose, kept.erasure].iter().all(|words| words.len() > 5), "{}", kept.table);
    }
}

#[tokio::test]
async fn the_page_of_the_inventory_says_what_is_kept_and_how_long() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let mut page =
        seller.get("/buyers/data").await.ok().says("36 months after the last dealing").says("audit trail names buyers by number only");
    for kept in INVENTORY {
        page = page.says(kept.purpose).says(kept.erasure);
    }
}

const MINE: [&str; 5] = ["Canary-Mine Öz", "+49 30 5550101", "1 Canary-Mine Row", "canary-mine-note", "canary-mine-word"];
const THEIRS: [&str; 4] = ["Canary-Theirs Öz", "2 Canary-Theirs Row", "canary-theirs-note", "canary-theirs-word"];

/// Two buyers who share a telephone, a cohort, and an animal that one had before the other.
async fn two_buyers() -> (TestHouse, crate::support::Person, i64, i64) {
    let house = house().await;
    let mut lead = house.person("Ada", "owner").await;
    let mine = stock::buyer(&mut lead, MINE[0], MINE[1], MINE[2]).await;
    let theirs = stock::buyer(&mut lead, THEIRS[0], MINE[1], THEIRS[1]).await;
    let (first, second) = (stock::animal(&house, CALM).await, stock::animal(&house, CALM).await);
    let cohort = stock::cohort(&house, CALM, 40).await;
    stock::hand_to(&house, &mut lead, mine, MINE[3], &[first], &[(cohort, "5")]).await;
    stock::hand_to(&house, &mut lead, theirs, THEIRS[2], &[second], &[(cohort, "6")]).await;
    // The same animal on a handover of the other, which was called off.
    let draft = lead.submit("/handovers/new", &[("buyer", theirs.to_string().as_str())]).await.sent_to();
    let writer = &house.app.database.writer;
    sqlx::query("INSERT INTO handover_line (handover_id, animal_id, quantity) VALUES (3, ?, 1)").bind(first).execute(writer).await.unwrap();
    lead.submit_at(&draft, &format!("{draft}/cancel"), &[]).await.sent_to();
    for (buyer, note) in [(mine, "canary-mine-order"), (theirs, "canary-theirs-order")] {
        sqlx::query("INSERT INTO sale_order (buyer_id, note, created_by, created_at) VALUES (?, ?, 1, '2026-04-15T10:00:00+00:00')")
            .bind(buyer)
            .bind(note)
            .execute(writer)
            .await
            .unwrap();
        sqlx::query(
            "INSERT INTO reservation (cohort_id, stage, quantity, order_id, until, note, made_on, made_at)
             SELECT ?, 'i2', 1, MAX(id), '2026-05-01', ?, '2026-04-15', '2026-04-15T10:00:00+00:00' FROM sale_order",
        )
        .bind(cohort)
        .bind(note)
        .execute(writer)
        .await
        .unwrap();
    }
    let fields = [("of", "GPUL-26-1"), ("mates", "yes"), ("reason", "nematodes"), ("words", "Worms at the mouth."), ("step", "record")];
    let code: String =
        sqlx::query_scalar("SELECT code FROM cohort WHERE id = ?").bind(cohort).fetch_one(&house.app.database.reader).await.unwrap();
    let mut fields = fields.to_vec();
    fields[0].1 = &code;
    let recall = lead.submit("/recall/new", &fields).await.sent_to();
    lead.submit_at(&recall, &format!("{recall}/letters"), &[]).await.sent_to();
    for (buyer, word) in [(mine, MINE[4]), (theirs, THEIRS[3])] {
        lead.submit_at(&recall, &format!("{recall}/buyers/{buyer}"), &[("what", "reached"), ("note", word)]).await.sent_to();
    }
    on_the_road(&house).await;
    (house, lead, mine, theirs)
}

/// A row for each of the two in the tables of orders, packing and the road, written past the rules that are tested elsewhere.
async fn on_the_road(house: &TestHouse) {
    let writer = &house.app.database.writer;
    for trigger in ["packed_by_cleared", "journey_before_it_goes", "arrival_of_what_was_sent", "arrival_line_adds_up", "credit_line_within"]
    {
        sqlx::query(sqlx::AssertSqlSafe(format!("DROP TRIGGER {trigger}"))).execute(writer).await.unwrap();
    }
    for statement in [
        "INSERT INTO sale_line (order_id, cohort_id, stage, packs, unit_minor) SELECT id, 1, 'i2', 1, 500 FROM sale_order",
        "INSERT INTO packed (handover_id, cohort_id, stage, quantity, band, packer_id, member_id, day, at)
         SELECT id, 1, 'i2', 1, 0, 1, 1, '2026-04-15', '2026-04-15' FROM handover WHERE id < 3",
        "INSERT OR IGNORE INTO handover_risk_shown (handover_id, least_age, member_id, at) SELECT id, 18, 1, '2026-04-15' FROM handover WHERE id < 3",
        "INSERT INTO journey (handover_id, carrier, day, unit, here_low, here_high, there_low, there_high, note, at)
         SELECT id, 'A carrier', '2026-04-15', 'c', 100, 200, 100, 200, CASE id WHEN 1 THEN 'canary-mine-road' ELSE 'canary-theirs-road' END,
                '2026-04-15' FROM handover WHERE id < 3",
        "INSERT INTO arrival (handover_id, arrived_at, claim_hours, note, at)
         SELECT id, '2026-04-15T10:00:00+00:00', 2, CASE id WHEN 1 THEN 'canary-mine-road' ELSE 'canary-theirs-road' END, '2026-04-15'
         FROM handover WHERE id < 3",
        "INSERT INTO arrival_line (arrival_id, handover_line_id, alive, injured, dead)
         SELECT arrival.id, line.id, line.quantity, 0, 0 FROM arrival JOIN handover_line AS line ON line.handover_id = arrival.handover_id",
        "INSERT INTO sale_return (handover_line_id, cohort_id, quantity, day, reason, at)
         SELECT id, 1, 1, '2026-04-15', CASE handover_id WHEN 1 THEN 'canary-mine-road' ELSE 'canary-theirs-road' END, '2026-04-15'
         FROM handover_line WHERE cohort_id = 1 AND handover_id < 3",
        "INSERT INTO credit_note (paper_id, handover_id, currency, tax_percent, prices_include_tax, net_minor, tax_minor, gross_minor)
         SELECT MIN(id), handover_id, 'EUR', '19', 1, 84, 16, 100 FROM paper WHERE handover_id < 3 GROUP BY handover_id",
        "INSERT INTO credit_line (paper_id, handover_line_id, quantity, why, charged_minor, amount_minor)
         SELECT credit.paper_id, MIN(line.id), 1, 'goodwill', 500, 100
         FROM credit_note AS credit JOIN handover_line AS line ON line.handover_id = credit.handover_id GROUP BY credit.paper_id",
    ] {
        sqlx::query(statement).execute(writer).await.unwrap_or_else(|error| panic!("{error}: {statement}"));
    }
}

/// What staff noted of a journey, an arrival and a return goes with the person, and what happened stays.
#[tokio::test]
async fn the_notes_of_the_road_go_with_the_person() {
    let (house, mut lead, mine, _) = two_buyers().await;
    let writer = &house.app.database.writer;
    sqlx::query("INSERT INTO hold (cohort_id, kind, blocks, from_at, reason) VALUES (1, 'quarantine', 'hands-in', '2026-04-15', 'brought back, handover 1: canary-mine-road')")
        .execute(writer)
        .await
        .unwrap();
    for table in ["journey", "arrival"] {
        let early = sqlx::query(sqlx::AssertSqlSafe(format!("UPDATE {table} SET note = ''"))).execute(writer).await;
        assert!(early.is_err(), "{table}");
    }
    sqlx::query("UPDATE sale_order SET state = 'cancelled', ended_at = '2026-04-15T11:00:00+00:00' WHERE state = 'open'")
        .execute(writer)
        .await
        .unwrap();
    lead.submit(&format!("/buyers/{mine}/erase"), &[("sure", "yes")]).await.sent_to();
    let raw = std::fs::read(house.app.config.database_file()).unwrap();
    assert!(!raw.windows(11).any(|window| window.eq_ignore_ascii_case(b"canary-mine")));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_return WHERE reason LIKE 'canary-theirs%'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_return WHERE reason = '(erased with the buyer)'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM hold WHERE reason = 'brought back, handover 1'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM journey JOIN arrival USING (handover_id)").await, 2);
    assert!(sqlx::query("UPDATE arrival SET arrived_at = '2026-01-01' WHERE handover_id = 1").execute(writer).await.is_err());
}

#[tokio::test]
async fn the_export_holds_every_table_and_only_that_persons() {
    let (house, mut lead, mine, theirs) = two_buyers().await;
    for (id, own, foreign) in [(mine, "canary-mine", "canary-theirs"), (theirs, "canary-theirs", "canary-mine")] {
        let json = lead.get(&format!("/buyers/{id}/data.json")).await.ok();
        assert_eq!(json.headers["content-type"], "application/json; charset=utf-8");
        assert!(json.headers["content-disposition"].to_str().unwrap().contains("attachment"));
        let csv = lead.get(&format!("/buyers/{id}/data.csv")).await.ok();
        let parsed: serde_json::Value = serde_json::from_str(&json.text()).unwrap();
        let tables = parsed["tables"].as_array().unwrap();
        assert_eq!(tables.len(), INVENTORY.len());
        let mut reader = csv::Reader::from_reader(csv.bytes.as_slice());
        let lines: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        for kept in INVENTORY {
            let table = tables.iter().find(|table| table["table"] == kept.table).expect(kept.table);
            let rows = table["rows"].as_array().unwrap();
            assert!(!rows.is_empty(), "{} is empty for buyer {id}", kept.table);
            assert_eq!(table["purpose"], kept.purpose);
            let of_table = lines.iter().filter(|line| &line[0] == kept.table);
            assert_eq!(of_table.map(|line| line[1].to_owned()).collect::<BTreeSet<_>>().len(), rows.len(), "{}", kept.table);
        }
        for text in [json.text(), csv.text()] {
            let lower = text.to_lowercase();
            assert!(lower.contains(own) && !lower.contains(foreign), "{text}");
        }
    }
    let json = lead.get(&format!("/buyers/{mine}/data.json")).await.ok().text();
    for canary in MINE {
        assert!(json.contains(canary), "{canary} is missing:\n{json}");
    }
    assert!(json.contains("canary-mine-order"));
    lead.get("/buyers/77/data.json").await.is(404);
    lead.get("/buyers/77/data.csv").await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM recall_contact WHERE what = 'letter'").await, 2);
}

#[tokio::test]
async fn cells_that_begin_like_a_formula_are_written_as_text() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let id = stock::buyer(&mut lead, "=HYPERLINK(\"x\")", "@cell", "").await;
    let csv = lead.get(&format!("/buyers/{id}/data.csv")).await.ok().text();
    assert!(csv.contains("'=HYPERLINK") && csv.contains("'@cell"), "{csv}");
}
