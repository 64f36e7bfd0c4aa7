//! Every SQL statement of the program is read from its sources and prepared against the schema.

use super::sources::{Source, all, literals};
use crate::support::TestHouse;

const VERBS: [&str; 5] = ["SELECT ", "INSERT ", "UPDATE ", "DELETE ", "WITH "];

fn is_sql(literal: &str) -> bool {
    VERBS.iter().any(|verb| literal.trim_start().starts_with(verb))
}

fn may_hold_sql(source: &Source) -> bool {
    source.path.starts_with("server/house/") || source.path.ends_with("/store.rs") || source.path.contains("/store/")
}

#[tokio::test]
async fn every_statement_fits_the_schema() {
    let house = TestHouse::start().await;
    let mut db = house.app.database.writer.acquire().await.unwrap();
    let mut prepared = 0;
    for source in all("server", ".rs").iter().filter(|source| may_hold_sql(source)) {
        for statement in literals(&source.text).into_iter().filter(|literal| is_sql(literal)) {
            let explained = sqlx::query(sqlx::AssertSqlSafe(format!("EXPLAIN {statement}"))).fetch_all(&mut *db).await;
            assert!(explained.is_ok(), "{}: {}\n{statement}", source.path, explained.unwrap_err());
            prepared += 1;
        }
    }
    assert!(prepared > 60, "only {prepared} statements were found");
}

#[test]
fn sql_stands_in_stores_only_and_is_never_built() {
    for source in all("server", ".rs") {
        if !may_hold_sql(&source) {
            let stray = literals(&source.text).into_iter().find(|literal| is_sql(literal));
            assert_eq!(stray, None, "{} holds SQL", source.path);
            for call in ["sqlx::query(", "sqlx::query_as(", "sqlx::query_scalar("] {
                assert!(!source.text.contains(call), "{} holds SQL", source.path);
            }
        }
        assert!(!source.text.contains("AssertSqlSafe"), "{} builds SQL", source.path);
        assert!(!source.text.contains(".begin()"), "{} begins a deferred transaction", source.path);
        let squeezed: String = source.text.split_whitespace().collect::<Vec<_>>().join(" ").replace("( ", "(");
        for verb in VERBS {
            assert!(!squeezed.contains(&format!("format!(\"{verb}")), "{} builds SQL", source.path);
        }
    }
}
