//! A book that was in use before the day's work was widened: it comes through with every row, sound, and takes the new words.

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

#[tokio::test]
async fn a_filled_book_comes_through_with_every_row() {
    let mut db = SqliteConnection::connect("sqlite::memory:").await.unwrap();
    let run = async |db: &mut SqliteConnection, wanted: fn(i64) -> bool| {
        for migration in MIGRATIONS.iter().filter(|migration| wanted(migration.version)) {
            sqlx::raw_sql(migration.sql.clone()).execute(&mut *db).await.unwrap_or_else(|error| panic!("{}: {error}", migration.version));
        }
    };
    run(&mut db, |version| version < DAY).await;
    sqlx::raw_sql(FILLED).execute(&mut db).await.unwrap();
    run(&mut db, |version| version >= DAY).await;
    let sound: String = sqlx::query_scalar("PRAGMA integrity_check").fetch_one(&mut db).await.unwrap();
    assert_eq!(sound, "ok");
    let orphans: i64 = sqlx::query_scalar("SELECT COUNT(*) FROM pragma_foreign_key_check").fetch_one(&mut db).await.unwrap();
    assert_eq!(orphans, 0);
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
