//! The database itself refuses what would break a count, whatever the code does: straight to SQL, round the store.

use silkward::cohorts::model::{NewLine, NewTags};
use silkward::cohorts::store;
use silkward::house::audit::Change;
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::LossCause;

use super::stock::{april, cohort, library, post};
use crate::support::{TestHouse, number};

const I1: Stage = Stage::Instar(1);
const I2: Stage = Stage::Instar(2);

/// A house with cohort 1: 10 first instar (line 1) and 20 second instar (line 2) came in on 1 April.
async fn stocked() -> TestHouse {
    let house = TestHouse::start().await;
    library(&house.app).await;
    cohort(&house.app, &[(I1, 10), (I2, 20)]).await;
    house
}

/// Runs a statement that must be refused, and gives the database's words.
#[track_caller]
fn refused(house: &TestHouse, sql: &'static str) -> impl Future<Output = String> {
    let pool = house.app.database.writer.clone();
    async move {
        match sqlx::query(sql).execute(&pool).await {
            Err(error) => error.as_database_error().unwrap().message().to_owned(),
            Ok(_) => panic!("the database took: {sql}"),
        }
    }
}

async fn run(house: &TestHouse, sql: &'static str) {
    sqlx::query(sql).execute(&house.app.database.writer).await.unwrap();
}

#[tokio::test]
async fn a_bucket_below_zero_is_refused() {
    let house = stocked().await;
    let said = refused(
        &house,
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, cause, at)
         VALUES (1, '2026-04-02', 'lost', 'i2', 'lost', 21, 'mites', '')",
    )
    .await;
    assert_eq!(said, "CHECK constraint failed: ledger_never_negative");
    let said = refused(&house, "UPDATE ledger_balance SET quantity = -1 WHERE bucket = 'i2'").await;
    assert_eq!(said, "CHECK constraint failed: ledger_never_negative");
}

#[tokio::test]
async fn a_line_dated_back_may_leave_no_day_short_before_or_after() {
    let house = stocked().await;
    let short = "ledger: fewer than that stood there on that day";
    post(&house.app, silkward::house::ids::CohortId(1), &NewLine::moulted(april(5), I1, I2, 10)).await.unwrap();
    // 30 stand at second instar now, but only 20 did on the 4th.
    let before = "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, cause, at)
         VALUES (1, '2026-04-04', 'lost', 'i2', 'lost', 21, 'mites', '')";
    assert_eq!(refused(&house, before).await, short);
    // Taking 1 of first instar on the 3rd would leave the moult of the 5th one short: 9 to give, 10 given, 1 brought in on the 6th.
    run(
        &house,
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at)
         VALUES (1, '2026-04-06', 'received', 'in', 'i1', 1, '')",
    )
    .await;
    let after = "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, cause, at)
         VALUES (1, '2026-04-03', 'lost', 'i1', 'lost', 1, 'mites', '')";
    assert_eq!(refused(&house, after).await, short);
}

#[tokio::test]
async fn a_leak_is_refused() {
    let house = stocked().await;
    for (kind, from, to, cause) in [
        ("lost", "i2", "nowhere", Some("mites")),
        ("received", "in", "lost", Some("mites")),
        ("received", "variance", "i2", None),
        ("moulted", "i2", "i1", None),
        ("moulted", "i2", "sold", None),
        ("sold", "i2", "tagged", None),
        ("sold", "in", "sold", None),
        ("tagged", "egg", "tagged", None),
        ("tagged", "ewl", "tagged", None),
        ("recounted", "lost", "i2", Some("mites")),
        ("recounted", "i1", "i2", None),
        ("moved", "i2", "in", None),
        ("reversal", "i2", "in", None),
    ] {
        let answer = sqlx::query(
            "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, cause, at) VALUES (1, '2026-04-02', ?, ?, ?, 1, ?, '')",
        )
        .bind(kind)
        .bind(from)
        .bind(to)
        .bind(cause)
        .execute(&house.app.database.writer)
        .await;
        assert!(answer.is_err(), "{kind} {from} -> {to}");
    }
    for values in ["(1, '2026-04-02', 'lost', 'i2', 'lost', 0, 'mites', '')", "(1, '2026-04-02', 'lost', 'i2', 'lost', 1, NULL, '')"] {
        let sql = format!("INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, cause, at) VALUES {values}");
        assert!(sqlx::query(sqlx::AssertSqlSafe(sql)).execute(&house.app.database.writer).await.is_err(), "{values}");
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM ledger_line").await, 2);
}

#[tokio::test]
async fn a_line_is_never_changed_nor_removed() {
    let house = stocked().await;
    assert_eq!(refused(&house, "UPDATE ledger_line SET quantity = 5 WHERE id = 1").await, "ledger lines are never changed");
    assert_eq!(refused(&house, "DELETE FROM ledger_line WHERE id = 1").await, "ledger lines are never removed");
    assert_eq!(refused(&house, "DELETE FROM ledger_balance").await, "balances are never removed");
    assert_eq!(refused(&house, "DELETE FROM cohort").await, "cohorts are never removed");
    let replaced = "INSERT OR REPLACE INTO ledger_line (id, cohort_id, day, kind, from_bucket, to_bucket, quantity, at)
         VALUES (1, 1, '2026-04-01', 'received', 'in', 'i1', 50, '')";
    assert!(refused(&house, replaced).await.contains("in the book already"));
}

#[tokio::test]
async fn a_line_is_taken_back_once_as_its_mirror_image() {
    let house = stocked().await;
    let mirror = "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, reverses_id, at)
         VALUES (1, '2026-04-01', 'reversal', 'i1', 'in', 10, 1, '')";
    for other in [
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, reverses_id, at)
         VALUES (1, '2026-04-01', 'reversal', 'i1', 'in', 9, 1, '')",
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, reverses_id, at)
         VALUES (1, '2026-04-02', 'reversal', 'i1', 'in', 10, 1, '')",
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, reverses_id, at)
         VALUES (1, '2026-04-01', 'reversal', 'i2', 'in', 10, 1, '')",
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, reverses_id, at)
         VALUES (1, '2026-04-01', 'reversal', 'i1', 'in', 10, 77, '')",
    ] {
        assert!(refused(&house, other).await.contains("cannot move between these buckets"), "{other}");
    }
    run(&house, mirror).await;
    assert!(refused(&house, mirror).await.contains("taken back already"));
    let again = "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, reverses_id, at)
         VALUES (1, '2026-04-01', 'reversal', 'in', 'i1', 10, 3, '')";
    assert!(refused(&house, again).await.contains("cannot move between these buckets"));
}

#[tokio::test]
async fn no_more_animals_than_were_tagged_and_their_line_stays() {
    let house = stocked().await;
    let cohort = silkward::house::ids::CohortId(1);
    let mut write = house.app.write(None).await.unwrap();
    let tags = NewTags { day: april(3), stage: I2, quantity: 2, shelf: None, note: String::new() };
    store::separate_and_tag(&mut write, cohort, &tags).await.unwrap();
    write.commit(Change::new("test.tagged", "cohort 1", ""), "/").await.unwrap();
    let third = "INSERT INTO animal (tag, species_id, origin, origin_line_id, source_code, started_on, created_at)
         VALUES ('ZZZZ9', (SELECT species_id FROM cohort WHERE id = 1), 'cohort', 3, 'C', '2026-04-03', '')";
    assert!(refused(&house, third).await.contains("tagged no more animals"));
    let of_another_line = "INSERT INTO animal (tag, species_id, origin, origin_line_id, source_code, started_on, created_at)
         VALUES ('ZZZZ9', (SELECT species_id FROM cohort WHERE id = 1), 'cohort', 2, 'C', '2026-04-03', '')";
    assert!(refused(&house, of_another_line).await.contains("tagged no more animals"));
    let reversal = "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, reverses_id, at)
         VALUES (1, '2026-04-03', 'reversal', 'tagged', 'i2', 2, 3, '')";
    assert!(refused(&house, reversal).await.contains("carry tags now"));
}

#[tokio::test]
async fn what_is_held_back_is_not_sold() {
    let house = stocked().await;
    run(&house, "INSERT INTO holdback (cohort_id, day, quantity, at) VALUES (1, '2026-04-02', 15, '')").await;
    let sold = "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at)
         VALUES (1, '2026-04-03', 'sold', 'i2', 'sold', 16, '')";
    assert_eq!(refused(&house, sold).await, "ledger: that many are held back");
    let more = "INSERT INTO holdback (cohort_id, day, quantity, at) VALUES (1, '2026-04-02', 16, '')";
    assert_eq!(refused(&house, more).await, "holdback: more held back than alive");
    let released = "INSERT INTO holdback (cohort_id, day, quantity, at) VALUES (1, '2026-04-02', -16, '')";
    assert_eq!(refused(&house, released).await, "holdback: more released than held");
    assert_eq!(refused(&house, "UPDATE holdback SET quantity = 1").await, "holdbacks are never changed");
    assert_eq!(refused(&house, "DELETE FROM holdback").await, "holdbacks are never removed");
    run(
        &house,
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, at)
         VALUES (1, '2026-04-03', 'sold', 'i2', 'sold', 15, '')",
    )
    .await;
}

#[tokio::test]
async fn what_arrives_in_another_cohort_is_what_left_this_one() {
    let house = stocked().await;
    let first = silkward::house::ids::CohortId(1);
    let second = cohort(&house.app, &[(I2, 1)]).await;
    let departure = post(&house.app, first, &NewLine::moved(april(3), I2, 5)).await.unwrap();
    post(&house.app, first, &NewLine::lost(april(3), I2, 5, LossCause::Mites)).await.unwrap();
    assert_eq!((second.0, departure.0), (2, 4));
    for wrong in [
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, moved_line_id, at)
         VALUES (2, '2026-04-03', 'received', 'in', 'i2', 6, 4, '')",
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, moved_line_id, at)
         VALUES (2, '2026-04-03', 'received', 'in', 'i1', 5, 4, '')",
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, moved_line_id, at)
         VALUES (1, '2026-04-03', 'received', 'in', 'i2', 5, 4, '')",
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, moved_line_id, at)
         VALUES (2, '2026-04-03', 'received', 'in', 'i2', 5, 5, '')",
    ] {
        assert!(refused(&house, wrong).await.contains("is not what left it"), "{wrong}");
    }
    let right = "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, moved_line_id, at)
         VALUES (2, '2026-04-03', 'received', 'in', 'i2', 5, 4, '')";
    run(&house, right).await;
    assert!(refused(&house, right).await.contains("in the book already"));
}
