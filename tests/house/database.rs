//! The database file: its settings, what is refused, and the audit trail.

use silkward::house::audit::{self, Change};
use silkward::house::database::{Database, Durability, FolderLock, recent_enough};

use crate::support::{TestHouse, number};

#[tokio::test]
async fn every_connection_has_the_settings() {
    let house = TestHouse::start().await;
    let mut held = Vec::new();
    for pool in [&house.app.database.writer, &house.app.database.reader] {
        for _ in 0..pool.options().get_max_connections() {
            held.push(pool.acquire().await.unwrap());
        }
    }
    assert!(held.len() > 2);
    for (place, db) in held.iter_mut().enumerate() {
        let text = |pragma: &'static str| sqlx::query_scalar::<_, String>(pragma);
        let whole = |pragma: &'static str| sqlx::query_scalar::<_, i64>(pragma);
        assert_eq!(text("PRAGMA journal_mode").fetch_one(&mut **db).await.unwrap(), "wal");
        assert_eq!(whole("PRAGMA synchronous").fetch_one(&mut **db).await.unwrap(), 2);
        assert_eq!(whole("PRAGMA foreign_keys").fetch_one(&mut **db).await.unwrap(), 1);
        assert_eq!(whole("PRAGMA busy_timeout").fetch_one(&mut **db).await.unwrap(), 10_000);
        assert_eq!(whole("PRAGMA trusted_schema").fetch_one(&mut **db).await.unwrap(), 0);
        assert_eq!(whole("PRAGMA query_only").fetch_one(&mut **db).await.unwrap(), i64::from(place > 0));
    }
}

#[test]
fn libraries_with_the_unrepaired_log_are_refused() {
    for old in ["3.46.0", "3.51.2", "3.7.17", "", "unknown"] {
        assert!(!recent_enough(old), "{old}");
    }
    for new in ["3.51.3", "3.53.0", "4.0.0"] {
        assert!(recent_enough(new), "{new}");
    }
}

#[tokio::test]
async fn a_file_of_another_program_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("silkward.sqlite");
    let options = sqlx::sqlite::SqliteConnectOptions::new().filename(&file).create_if_missing(true);
    let other = sqlx::SqlitePool::connect_with(options).await.unwrap();
    sqlx::query("CREATE TABLE note (text TEXT)").execute(&other).await.unwrap();
    other.close().await;
    let refused = Database::open(&file, Durability::Full).await.unwrap_err();
    assert!(refused.to_string().contains("is not a Silkward database"), "{refused}");
    std::fs::write(&file, "not a database at all, but long enough to look like one".repeat(40)).unwrap();
    assert!(Database::open(&file, Durability::Full).await.is_err());
}

#[test]
fn one_process_holds_the_data_folder() {
    let folder = tempfile::tempdir().unwrap();
    let held = FolderLock::take(folder.path()).unwrap();
    let refused = FolderLock::take(folder.path()).unwrap_err();
    assert!(refused.to_string().contains(&format!("in use by process {}", std::process::id())), "{refused}");
    drop(held);
    FolderLock::take(folder.path()).unwrap();
}

async fn make(house: &TestHouse, number: i64) {
    let write = house.app.write(None).await.unwrap();
    write.commit(Change::new("test.made", format!("test {number}"), "after"), "/").await.unwrap();
}

#[tokio::test]
async fn audit_rows_are_never_changed_or_removed() {
    let house = TestHouse::start().await;
    make(&house, 1).await;
    for statement in ["UPDATE audit SET after = 'other'", "DELETE FROM audit"] {
        assert!(sqlx::query(statement).execute(&house.app.database.writer).await.is_err(), "{statement}");
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE after = 'after'").await, 1);
}

#[tokio::test]
async fn an_edit_behind_the_programs_back_is_found_and_named() {
    let changes = [
        ("UPDATE audit SET after = 'other' WHERE id = 3", "audit row 3 does not hold"),
        ("UPDATE audit SET member_id = NULL, at = '2020-01-01T00:00:00+00:00' WHERE id = 2", "audit row 2 does not hold"),
        ("DELETE FROM audit WHERE id = 3", "audit row 3 is missing"),
        ("DELETE FROM audit WHERE id = 1", "audit row 1 is missing"),
    ];
    for (statement, finding) in changes {
        let house = TestHouse::start().await;
        for number in 1..=5 {
            make(&house, number).await;
        }
        let mut db = house.app.database.writer.acquire().await.unwrap();
        assert_eq!(audit::verify(&mut db).await.unwrap(), Ok(5));
        for open in ["DROP TRIGGER audit_keeps_rows", "DROP TRIGGER audit_loses_none"] {
            sqlx::query(open).execute(&mut *db).await.unwrap();
        }
        sqlx::query(statement).execute(&mut *db).await.unwrap();
        let found = audit::verify(&mut db).await.unwrap().unwrap_err();
        assert!(found.contains(finding), "{statement}: {found}");
    }
}

#[tokio::test]
async fn a_tail_that_was_cut_off_shows_only_against_a_copy_of_the_head() {
    let house = TestHouse::start().await;
    for number in 1..=5 {
        make(&house, number).await;
    }
    let mut db = house.app.database.writer.acquire().await.unwrap();
    let noted = audit::head(&mut db).await.unwrap();
    sqlx::query("DROP TRIGGER audit_loses_none").execute(&mut *db).await.unwrap();
    sqlx::query("DELETE FROM audit WHERE id > 3").execute(&mut *db).await.unwrap();
    assert_eq!(audit::verify(&mut db).await.unwrap(), Ok(3), "the chain alone can't tell");
    assert_ne!(audit::head(&mut db).await.unwrap(), noted);
}

#[tokio::test]
async fn two_who_write_at_once_both_succeed() {
    let house = TestHouse::start().await;
    let writers: Vec<_> = (0..8)
        .map(|number| {
            let app = house.app.clone();
            tokio::spawn(async move {
                let write = app.write(None).await.unwrap();
                tokio::task::yield_now().await;
                write.commit(Change::new("test.made", format!("test {number}"), ""), "/").await.unwrap();
            })
        })
        .collect();
    for writer in writers {
        writer.await.unwrap();
    }
    let mut db = house.app.read().await.unwrap();
    assert_eq!(audit::verify(&mut db).await.unwrap(), Ok(8));
}

#[tokio::test]
async fn a_change_that_is_not_committed_leaves_nothing() {
    let house = TestHouse::start().await;
    let mut write = house.app.write(None).await.unwrap();
    sqlx::query("INSERT INTO room (name, walk_order) VALUES ('Room', 1)").execute(write.db()).await.unwrap();
    drop(write);
    assert_eq!(number(&house, "SELECT (SELECT COUNT(*) FROM room) + (SELECT COUNT(*) FROM audit)").await, 0);
}

/// The words that a table takes were widened in place: what is stored must still be sound, and the new words must count.
#[tokio::test]
async fn words_that_were_added_later_are_taken_and_others_are_not() {
    let house = TestHouse::start().await;
    let pool = &house.app.database.writer;
    let sound: String = sqlx::query_scalar("PRAGMA integrity_check").fetch_one(pool).await.unwrap();
    assert_eq!(sound, "ok");
    sqlx::query("INSERT INTO room (id, name, walk_order) VALUES (1, 'Warm room', 1)").execute(pool).await.unwrap();
    let duty = "INSERT INTO duty (kind, room_id, due_on, late_after, seconds, exposure, band, clearance, persons, reason, planned_at)
                VALUES (?, ?, '2026-04-15', '2026-04-15', 60, 'look', 0, 0, 1, 'daily', '2026-04-15T00:00:00Z')";
    assert!(sqlx::query(duty).bind("tea-break").bind(1).execute(pool).await.is_err());
    assert!(sqlx::query(duty).bind("room-reading").bind(None::<i64>).execute(pool).await.is_err());
    sqlx::query(duty).bind("room-reading").bind(1).execute(pool).await.unwrap();
    assert!(sqlx::query(duty).bind("room-reading").bind(1).execute(pool).await.is_err(), "one open duty for one subject and kind");
    let (label, place): (String, String) = sqlx::query_as("SELECT label, place FROM duty_now").fetch_one(pool).await.unwrap();
    assert_eq!((label.as_str(), place.as_str()), ("Warm room", "Warm room"));
}
