//! A book from before the rules of planning were figures of the care profile: its revisions get those that counted then.

use silkward::house::database::MIGRATIONS;
use sqlx::{Connection as _, SqliteConnection};

/// The migration that brings the rules.
const RULES: i64 = 20_261_125_001_400;

#[tokio::test]
async fn revisions_that_are_there_keep_the_figures_that_counted_until_then() {
    let mut db = SqliteConnection::connect("sqlite::memory:").await.unwrap();
    for migration in MIGRATIONS.iter().filter(|migration| migration.version < RULES) {
        sqlx::raw_sql(migration.sql.clone()).execute(&mut db).await.unwrap();
    }
    sqlx::raw_sql(
        "INSERT INTO species (accepted_name, authority, world, range, habit, moisture, adult_span_min_mm, adult_span_max_mm, setae, setae_note,
            venom, venom_basis, defensive, very_fast, temper, communal, pace, clutch_min, clutch_max, pull_from_day, pull_to_day,
            post_embryo_from, post_embryo_to, first_instar_from, first_instar_to, second_instar_from, second_instar_to, breeding_basis, law_note)
         VALUES ('Mitis lenta', 'A', 'new', 'r', 'arboreal', 'dry', 120, 150, 'none', 'n', 'mild', 'b', 0, 0, 't', 0, 'slow', 10, 20, 28, 35,
            20, 30, 35, 50, 50, 75, 'b', 'l');
         INSERT INTO care_profile (species_id, revision, why, created_at) VALUES (1, 1, 'first', '2026-01-01T08:00:00+00:00');
         INSERT INTO care_stage (profile_id, stage, feed_min_days, feed_max_days, moult_min_days, moult_max_days, day_min_c, day_max_c, rh_min,
            rh_max, prey, water, substrate, ventilation, hide, uneaten_hours, water_days, clean_days, moult_check_days, count_days, basis)
         VALUES (1, 'spiderling', 3, 30, 10, 20, 20, 25, 50, 60, '', '', '', '', '', 24, 7, 14, 7, 30, ''),
                (1, 'juvenile', 10, 30, 10, 20, 20, 25, 50, 60, '', '', '', '', '', 24, 7, 14, 7, 30, ''),
                (1, 'adult', 21, 30, 10, 20, 20, 25, 50, 60, '', '', '', '', '', 24, 7, 14, 7, 30, '')",
    )
    .execute(&mut db)
    .await
    .unwrap();
    for migration in MIGRATIONS.iter().filter(|migration| migration.version >= RULES) {
        sqlx::raw_sql(migration.sql.clone()).execute(&mut db).await.unwrap();
    }
    // Half the least interval but at least two days; three, four and six refusals; settling 3 to 7, 5 to 10, 7 to 14 days
    // (common practice, no source).
    let stages: Vec<(String, i64, i64, i64, i64, i64)> = sqlx::query_as(
        "SELECT stage, retry_days, refusals_check, close_check_days, settle_min_days, settle_max_days FROM care_stage ORDER BY feed_min_days",
    )
    .fetch_all(&mut db)
    .await
    .unwrap();
    let expected = [("spiderling", 2, 3, 2, 3, 7), ("juvenile", 5, 4, 3, 5, 10), ("adult", 11, 6, 3, 7, 14)]
        .map(|(stage, a, b, c, d, e)| (stage.to_owned(), a, b, c, d, e));
    assert_eq!(stages, expected);
    let fast: Vec<(i64, i64, i64)> =
        sqlx::query_as("SELECT from_mm, min_days, max_days FROM care_fast WHERE profile_id = 1 ORDER BY from_mm")
            .fetch_all(&mut db)
            .await
            .unwrap();
    assert_eq!(fast, [(0, 3, 5), (15, 5, 7), (40, 7, 10), (80, 10, 14), (120, 14, 21)]);
    for change in ["UPDATE care_stage SET retry_days = 1", "UPDATE care_fast SET max_days = 99", "DELETE FROM care_fast"] {
        assert!(sqlx::raw_sql(change).execute(&mut db).await.is_err(), "{change}");
    }
}
