//! Reading changes nothing: every page of a stocked house is opened twice, and the tables are the same after.

use std::collections::BTreeSet;

use scraper::{Html, Selector};
use silkward::house::access::Verb;
use silkward::house::audit::Change;
use silkward::house::router;
use silkward::house::secrets::sha256_hex;
use silkward::species::store;
use sqlx::AssertSqlSafe;

use crate::support::TestHouse;

/// A hash over all tables but the sessions, whose last use is noted when they are read.
pub async fn fingerprint(house: &TestHouse) -> String {
    let mut db = house.app.database.reader.acquire().await.unwrap();
    let tables: Vec<String> = sqlx::query_scalar(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name <> 'session' ORDER BY name",
    )
    .fetch_all(&mut *db)
    .await
    .unwrap();
    let mut whole = String::new();
    for table in tables {
        let columns: Vec<String> =
            sqlx::query_scalar("SELECT 'quote(' || name || ')' FROM pragma_table_info(?)").bind(&table).fetch_all(&mut *db).await.unwrap();
        let rows = format!("SELECT {} FROM {table} ORDER BY 1", columns.join(" || ',' || "));
        let rows: Vec<String> = sqlx::query_scalar(AssertSqlSafe(rows)).fetch_all(&mut *db).await.unwrap();
        whole.push_str(&format!("{table}\n{}\n", rows.join("\n")));
    }
    sha256_hex(whole.as_bytes())
}

async fn stock(house: &TestHouse) {
    let mut write = house.app.write(None).await.unwrap();
    store::seed_library(&mut write).await.unwrap();
    let run = [
        "INSERT INTO room (name, walk_order) VALUES ('Quiet room', 1)",
        "INSERT INTO rack (room_id, name, walk_order) VALUES (1, 'A', 1)",
        "INSERT INTO shelf (rack_id, number) VALUES (1, 1)",
        "INSERT INTO cohort (code, species_id, origin, source_code, started_on, shelf_id, created_at) VALUES ('C-1', 1, 'bought', 'C', '2026-01-01', 1, '2026-01-01T00:00:00+00:00')",
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at) VALUES (1, '2026-01-01', 'received', 'in', 'i2', 40, '2026-01-01T00:00:00+00:00')",
        "INSERT INTO animal (tag, species_id, origin, source_code, started_on, shelf_id, created_at) VALUES ('TAG7X', 2, 'bought', 'C', '2026-02-01', 1, '2026-02-01T00:00:00+00:00')",
        "INSERT INTO sac (species_id, laid_on, incubation, created_at) VALUES (3, '2026-03-20', 'with-dam', '2026-03-20T00:00:00+00:00')",
        "INSERT INTO buyer (name, created_at) VALUES ('Wren Abbot', '2026-04-01T00:00:00+00:00')",
    ];
    for statement in run {
        sqlx::query(statement).execute(write.db()).await.unwrap();
    }
    write.commit(Change::new("test.stocked", "test 1", ""), "/").await.unwrap();
}

#[tokio::test]
async fn opening_every_page_twice_changes_nothing() {
    let house = TestHouse::start().await;
    stock(&house).await;
    let mut owner = house.person("Ada", "owner keeper").await;
    let before = fingerprint(&house).await;
    for _ in 0..2 {
        let mut waiting: BTreeSet<String> = router::all_routes()
            .listed()
            .iter()
            .filter(|route| route.method == Verb::Get && !route.path.starts_with("/static"))
            .map(|route| route.path.split('/').map(|part| if part.starts_with('{') { "1" } else { part }).collect::<Vec<_>>().join("/"))
            .collect();
        let mut opened = BTreeSet::new();
        while let Some(path) = waiting.pop_first() {
            if !opened.insert(path.clone()) {
                continue;
            }
            let page = owner.get(&path).await;
            assert!(page.status.as_u16() < 500, "{path}: {}", page.text());
            if page.status == 200 && page.headers["content-type"].to_str().unwrap().starts_with("text/html") {
                waiting.extend(local_links(&page.text()).into_iter().filter(|link| !opened.contains(link)));
            }
            assert!(opened.len() < 2000, "the pages do not end");
        }
        assert!(opened.len() > 30, "{opened:?}");
    }
    assert_eq!(fingerprint(&house).await, before);
}

fn local_links(text: &str) -> Vec<String> {
    let html = Html::parse_document(text);
    let anchors = Selector::parse("a[href]").unwrap();
    let links = html.select(&anchors).filter_map(|link| link.value().attr("href").map(str::to_owned));
    links.filter(|link| link.starts_with('/')).collect()
}
