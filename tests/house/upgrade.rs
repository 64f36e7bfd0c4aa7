//! Books that were in use before a release: they come through with every row, sound, and take the new words.

use silkward::house::database::MIGRATIONS;
use sqlx::{Connection as _, SqliteConnection};

/// The first migration of the day's work.
const DAY: i64 = 20_261_125_001_200;

const FILLED: &str = "
    INSERT INTO member (id, name, sign_in_name, pass_hash, is_keeper, created_at) VALUES (1, 'Bo', 'bo', '', 1, '2026-01-01T08:00:00+00:00');
    INSERT INTO room (id, name, walk_order) VALUES (1, 'Quiet room', 1);
    INSERT INTO rack (id, room_id, name, walk_order) VALUES (1, 1, 'Elm', 1);
    INSERT INTO shelf (id, rack_id, number) VALUES (1, 1, 1), (2, 1, 2);
    INSERT INTO species (id, accepted_name, authority, world, range, habit, moisture, adult_span_min_mm, adult_span_max_mm, setae, setae_note,
        venom, venom_basis, defensive, very_fast, temper, communal, pace, clutch_min, clutch_max, pull_from_day, pull_to_day,
        post_embryo_from, post_embryo_to, first_instar_from, first_instar_to, second_instar_from, second_instar_to, breeding_basis, law_note)
    VALUES (1, 'Mitis lenta', 'A', 'new', 'r', 'arboreal', 'dry', 120, 150, 'none', 'n', 'mild', 'b', 0, 0, 't', 0, 'slow', 10, 20, 28, 35,
        20, 30, 35, 50, 50, 75, 'b', 'l');
    INSERT INTO animal (id, tag, species_id, origin, source_code, started_on, shelf_id, position, enclosure_length_mm, created_at)
    VALUES (1, 'T-1', 1, 'bought', 'C', '2026-01-01', 2, 1, 300, '2026-01-01T08:00:00+00:00');
    INSERT INTO duty (id, kind, animal_id, due_on, late_after, seconds, exposure, band, clearance, persons, reason, planned_at)
    VALUES (1, 'water', 1, '2026-01-08', '2026-01-11', 60, 'open', 0, 0, 1, 'weekly', '2026-01-08T05:00:00+00:00'),
           (2, 'feed', 1, '2026-01-09', '2026-01-12', 120, 'open', 0, 0, 1, 'due', '2026-01-09T05:00:00+00:00');
    INSERT INTO signoff (id, duty_id, member_id, at, day, outcome, clearance, persons)
    VALUES (1, 1, 1, '2026-01-08T09:00:00+00:00', '2026-01-08', 'done', 0, 1);
    INSERT INTO meal (animal_id, day, offered_at, prey, outcome, member_id, at)
    VALUES (1, '2026-01-02', '2026-01-02T09:00:00+00:00', 'cricket', 'took', 1, '2026-01-02T09:00:00+00:00');
    INSERT INTO hold (animal_id, kind, blocks, from_at, until_at, reason, member_id)
    VALUES (1, 'agitated', 'open', '2026-01-09T09:00:00+00:00', '2026-01-10T09:00:00+00:00', 'threat display', 1);
    INSERT INTO at_work (day, member_id, present, minutes) VALUES ('2026-01-09', 1, 1, 200);";

/// Runs migrations as the program does: each in a transaction, references watched.
async fn run(db: &mut SqliteConnection, wanted: fn(i64) -> bool) {
    for migration in MIGRATIONS.iter().filter(|migration| wanted(migration.version)) {
        let mut transaction = db.begin().await.unwrap();
        let ran = sqlx::raw_sql(migration.sql.clone()).execute(&mut *transaction).await;
        ran.unwrap_or_else(|error| panic!("{}: {error}", migration.version));
        transaction.commit().await.unwrap_or_else(|error| panic!("{}: {error}", migration.version));
    }
}

/// The file is sound, and no row names one that is not there.
async fn is_sound(db: &mut SqliteConnection) {
    let sound: String = sqlx::query_scalar("PRAGMA integrity_check").fetch_one(&mut *db).await.unwrap();
    assert_eq!(sound, "ok");
    let orphans: i64 = sqlx::query_scalar("SELECT COUNT(*) FROM pragma_foreign_key_check").fetch_one(db).await.unwrap();
    assert_eq!(orphans, 0);
}

/// The first migration that lets papers be of many kinds.
const PAPERS: i64 = 20_261_126_000_100;

const SOLD: &str = "
    INSERT INTO care_profile (id, species_id, revision, why, created_at)
    VALUES (1, 1, 1, 'first', '2026-01-01T08:00:00+00:00');
    INSERT INTO buyer (id, name, created_at) VALUES (7, 'A buyer', '2026-02-01T08:00:00+00:00');
    INSERT INTO handover (id, buyer_id, created_by, created_at) VALUES (3, 7, 1, '2026-02-01T08:00:00+00:00');
    INSERT INTO handover_line (id, handover_id, animal_id, quantity) VALUES (5, 3, 1, 1);
    INSERT INTO paper (id, number, kind, handover_id, handover_line_id, profile_id, title, body, fingerprint, link_base, issued_at, issued_on, issued_by)
    VALUES (9, 'S-2026-0001', 'care-sheet', 3, 5, 1, 'Mitis lenta, tag T-1', CAST('<html>' AS BLOB), printf('%064d', 1), 'https://b.example',
            '2026-02-01T09:00:00+00:00', '2026-02-01', 1);
    INSERT INTO buyer_link (id, paper_id, nonce, token_hash, created_at) VALUES (1, 9, 'n', 'h', '2026-02-01T09:00:00+00:00');
    UPDATE animal SET status = 'sold', status_on = '2026-02-01', shelf_id = NULL, position = NULL WHERE id = 1;
    UPDATE handover SET state = 'done', day = '2026-02-01', done_at = '2026-02-01T09:00:00+00:00', done_by = 1 WHERE id = 3;";

#[tokio::test]
async fn a_book_with_issued_papers_keeps_each_with_its_link() {
    let mut db = SqliteConnection::connect("sqlite::memory:").await.unwrap();
    run(&mut db, |version| version < PAPERS).await;
    sqlx::raw_sql(FILLED).execute(&mut db).await.unwrap();
    sqlx::raw_sql(SOLD).execute(&mut db).await.unwrap();
    run(&mut db, |version| version >= PAPERS).await;
    is_sound(&mut db).await;
    let kept: (String, String, i64, i64, String, String) =
        sqlx::query_as("SELECT number, kind, buyer_id, animal_id, CAST(body AS TEXT), nonce FROM paper_whole WHERE id = 9")
            .fetch_one(&mut db)
            .await
            .unwrap();
    assert_eq!(kept, ("S-2026-0001".into(), "care-sheet".into(), 7, 1, "<html>".into(), "n".into()));
    assert!(sqlx::raw_sql("UPDATE paper SET title = 'x'").execute(&mut db).await.is_err(), "an issued paper stays as it was");
    assert!(sqlx::raw_sql("DELETE FROM paper").execute(&mut db).await.is_err(), "an issued paper stays");
}

#[tokio::test]
async fn a_filled_book_comes_through_with_every_row() {
    let mut db = SqliteConnection::connect("sqlite::memory:").await.unwrap();
    run(&mut db, |version| version < DAY).await;
    sqlx::raw_sql(FILLED).execute(&mut db).await.unwrap();
    run(&mut db, |version| version >= DAY).await;
    is_sound(&mut db).await;
    let rows: (i64, i64, i64, i64, i64) = sqlx::query_as(
        "SELECT (SELECT COUNT(*) FROM duty_now WHERE place = 'Quiet room · Elm · shelf 2'), (SELECT COUNT(*) FROM signoff WHERE entered = 'live'),
                (SELECT COUNT(*) FROM meal_standing WHERE prey = 'cricket'), (SELECT COUNT(*) FROM hold), (SELECT minutes FROM at_work)",
    )
    .fetch_one(&mut db)
    .await
    .unwrap();
    assert_eq!(rows, (2, 1, 1, 1, 200));
    // Walked as before, by number; and the book goes on.
    let order: Vec<i64> = sqlx::query_scalar("SELECT id FROM shelf ORDER BY walk_order, number").fetch_all(&mut db).await.unwrap();
    assert_eq!(order, [1, 2]);
    sqlx::raw_sql(
        "INSERT INTO signoff (duty_id, member_id, at, day, outcome, clearance, persons, entered, made_at)
         VALUES (2, 1, '2026-01-09T10:00:00+00:00', '2026-01-09', 'took', 0, 1, 'paper', '2026-01-09T09:00:00+00:00')",
    )
    .execute(&mut db)
    .await
    .unwrap();
    assert!(sqlx::raw_sql("UPDATE signoff SET note = 'x'").execute(&mut db).await.is_err(), "what was signed stays as it was");
}
