//! The book is held against what must always be true, and what is not is named.

use silkward::house::audit::Change;
use silkward::records::verify;
use silkward::species::store;

use crate::support::TestHouse;

async fn book() -> TestHouse {
    let house = TestHouse::start().await;
    let mut write = house.app.write(None).await.unwrap();
    store::seed_library(&mut write).await.unwrap();
    let run = [
        "INSERT INTO cohort (code, species_id, origin, source_code, started_on, created_at) VALUES ('C-1', 1, 'bought', 'C', '2026-01-01', '2026-01-01')",
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at) VALUES (1, '2026-01-01', 'received', 'in', 'i2', 40, '2026-01-01')",
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at) VALUES (1, '2026-02-01', 'tagged', 'i2', 'tagged', 1, '2026-02-01')",
        "INSERT INTO animal (tag, species_id, origin, origin_line_id, source_code, started_on, created_at) VALUES ('TAG7X', 1, 'cohort', 2, 'C', '2026-02-01', '2026-02-01')",
    ];
    for statement in run {
        sqlx::query(statement).execute(write.db()).await.unwrap();
    }
    write.commit(Change::new("test.stocked", "test 1", ""), "/").await.unwrap();
    house
}

#[tokio::test]
async fn a_sound_book_gives_no_finding() {
    let report = verify::run(&book().await.app).await.unwrap();
    assert_eq!(report.findings, Vec::<String>::new());
    assert_eq!(report.audit_rows, 1);
    assert_eq!(report.audit_seal.len(), 64);
}

#[tokio::test]
async fn each_kind_of_damage_is_named() {
    let harm = [
        ("UPDATE ledger_balance SET quantity = 41 WHERE bucket = 'in'", "cohort C-1, bucket in: the balance says 41, its lines sum to 40"),
        (
            "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at) VALUES (1, '2026-02-02', 'tagged', 'i2', 'tagged', 3, '2026-02-02')",
            "ledger line 3 tagged 3, but 0 animals come from it",
        ),
        ("UPDATE audit SET after = 'nothing'", "audit row 1 does not hold"),
        ("DELETE FROM species WHERE id = 1", "names a species that is not there"),
    ];
    for (statement, finding) in harm {
        let house = book().await;
        let mut db = house.app.database.writer.acquire().await.unwrap();
        for before in ["PRAGMA foreign_keys = OFF", "DROP TRIGGER audit_keeps_rows"] {
            sqlx::query(before).execute(&mut *db).await.unwrap();
        }
        sqlx::query(statement).execute(&mut *db).await.unwrap();
        drop(db);
        let findings = verify::run(&house.app).await.unwrap().findings;
        assert!(findings.iter().any(|found| found.contains(finding)), "{statement}: {findings:?}");
    }
}
