//! SQL that looks for what must never be: each function gives one sentence a finding.

use sqlx::SqliteConnection;

use crate::house::secrets::sha256_hex;
use crate::papers::model::whole;

/// What SQLite itself finds wrong with the file.
///
/// # Errors
/// The database can't be read.
pub async fn file(db: &mut SqliteConnection) -> sqlx::Result<Vec<String>> {
    let found: Vec<String> = sqlx::query_scalar("PRAGMA integrity_check").fetch_all(db).await?;
    Ok(found.into_iter().filter(|line| line != "ok").map(|line| format!("the file is damaged: {line}")).collect())
}

/// Rows that name a row that is not there.
///
/// # Errors
/// The database can't be read.
pub async fn references(db: &mut SqliteConnection) -> sqlx::Result<Vec<String>> {
    let found: Vec<(String, Option<i64>, String, i64)> = sqlx::query_as("PRAGMA foreign_key_check").fetch_all(db).await?;
    Ok(found
        .into_iter()
        .map(|(table, row, parent, _)| format!("{table} row {} names a {parent} that is not there", row.unwrap_or_default()))
        .collect())
}

/// Balances of the count ledger that are not the sum of its lines. What came in is counted up in the bucket `in`.
///
/// # Errors
/// The database can't be read.
pub async fn balances(db: &mut SqliteConnection) -> sqlx::Result<Vec<String>> {
    let found: Vec<(String, String, i64, i64)> = sqlx::query_as(
        "WITH movement AS (
             SELECT cohort_id, from_bucket AS bucket, CASE WHEN from_bucket = 'in' THEN quantity ELSE -quantity END AS change FROM ledger_line
             UNION ALL
             SELECT cohort_id, to_bucket, CASE WHEN to_bucket = 'in' THEN -quantity ELSE quantity END FROM ledger_line
         ), summed AS (
             SELECT cohort_id, bucket, SUM(change) AS quantity FROM movement GROUP BY cohort_id, bucket
         )
         SELECT cohort.code, pair.bucket, COALESCE(ledger_balance.quantity, 0), COALESCE(summed.quantity, 0)
         FROM (SELECT cohort_id, bucket FROM summed UNION SELECT cohort_id, bucket FROM ledger_balance) AS pair
         JOIN cohort ON cohort.id = pair.cohort_id
         LEFT JOIN summed ON summed.cohort_id = pair.cohort_id AND summed.bucket = pair.bucket
         LEFT JOIN ledger_balance ON ledger_balance.cohort_id = pair.cohort_id AND ledger_balance.bucket = pair.bucket
         WHERE COALESCE(ledger_balance.quantity, 0) <> COALESCE(summed.quantity, 0)
         ORDER BY cohort.id, pair.bucket",
    )
    .fetch_all(db)
    .await?;
    Ok(found
        .into_iter()
        .map(|(code, bucket, kept, summed)| format!("cohort {code}, bucket {bucket}: the balance says {kept}, its lines sum to {summed}"))
        .collect())
}

/// Kinds of prey whose balance is not the sum of their lines, or whose use is not that of the meals that stand.
///
/// # Errors
/// The database can't be read.
pub async fn prey(db: &mut SqliteConnection) -> sqlx::Result<Vec<String>> {
    let found: Vec<(String, i64, i64, i64, i64)> = sqlx::query_as(
        "SELECT label, kept, summed, used, eaten FROM (
             SELECT name || ', ' || size AS label,
                    COALESCE((SELECT quantity FROM prey_balance WHERE kind_id = kind.id), 0) AS kept,
                    COALESCE((SELECT SUM(quantity) FROM prey_line WHERE kind_id = kind.id), 0) AS summed,
                    COALESCE((SELECT -SUM(quantity) FROM prey_line WHERE kind_id = kind.id AND what = 'used'), 0) AS used,
                    COALESCE((SELECT SUM(prey_used) FROM meal_standing WHERE prey_kind_id = kind.id), 0)
                    + COALESCE((SELECT SUM(prey_used) FROM cohort_meal_standing WHERE prey_kind_id = kind.id), 0) AS eaten
             FROM prey_kind AS kind ORDER BY kind.id)
         WHERE kept <> summed OR used <> eaten",
    )
    .fetch_all(db)
    .await?;
    Ok(found
        .into_iter()
        .map(|(label, kept, summed, used, eaten)| {
            format!(
                "prey, {label}: the balance says {kept}, its lines sum to {summed}; {used} were used by its lines, {eaten} by the meals"
            )
        })
        .collect())
}

/// Lines that tagged another number of animals than carry tags from them.
///
/// # Errors
/// The database can't be read.
pub async fn tags(db: &mut SqliteConnection) -> sqlx::Result<Vec<String>> {
    let found: Vec<(i64, i64, i64)> = sqlx::query_as(
        "SELECT ledger_line.id, ledger_line.quantity, (SELECT COUNT(*) FROM animal WHERE animal.origin_line_id = ledger_line.id)
         FROM ledger_line
         WHERE ledger_line.kind = 'tagged'
           AND (SELECT COUNT(*) FROM animal WHERE animal.origin_line_id = ledger_line.id)
               <> CASE WHEN EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = ledger_line.id) THEN 0 ELSE ledger_line.quantity END
         ORDER BY ledger_line.id",
    )
    .fetch_all(db)
    .await?;
    Ok(found
        .into_iter()
        .map(|(line, said, tagged)| format!("ledger line {line} tagged {said}, but {tagged} animals come from it"))
        .collect())
}

/// Id, number, body, the part that names a person, whether that was erased, and the fingerprint.
type Issued = (i64, String, Vec<u8>, Option<Vec<u8>>, bool, String);

/// Issued papers whose bytes no longer have their fingerprint. Of a paper whose buyer was erased, a part is gone for good: its
/// bytes can't be held against the fingerprint any more.
///
/// # Errors
/// The database can't be read.
pub async fn papers(db: &mut SqliteConnection) -> sqlx::Result<Vec<String>> {
    let mut found = Vec::new();
    let mut last = 0_i64;
    loop {
        let some: Vec<Issued> = sqlx::query_as(
            "SELECT paper.id, paper.number, paper.body, person.part, paper.names_person AND buyer.erased_at IS NOT NULL, paper.fingerprint
             FROM paper LEFT JOIN paper_person AS person ON person.paper_id = paper.id LEFT JOIN buyer ON buyer.id = paper.buyer_id
             WHERE paper.id > ? ORDER BY paper.id LIMIT 100",
        )
        .bind(last)
        .fetch_all(&mut *db)
        .await?;
        let Some(newest) = some.last() else { return Ok(found) };
        last = newest.0;
        let changed = some
            .iter()
            .filter(|(_, _, body, part, erased, fingerprint)| !erased && sha256_hex(&whole(body, part.as_deref())) != *fingerprint);
        found.extend(changed.map(|(_, number, ..)| format!("paper {number} was changed after it was issued")));
    }
}
