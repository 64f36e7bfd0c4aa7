//! The audit trail: each change leaves one row, sealed by a hash over itself and the row before.

use chrono::{DateTime, Utc};
use sqlx::SqliteConnection;

use super::ids::MemberId;
use super::secrets::sha256_hex;

/// What one request changed, in brief: enough to answer "who did that, and what was it before".
#[derive(Debug, Clone)]
pub struct Change {
    /// What was done, as `noun.verb-past`: `sac.opened`.
    pub action: &'static str,
    /// What it was done to, as `kind id`: `cohort 12`.
    pub subject: String,
    /// What stood before; empty for something new.
    pub before: String,
    /// What stands now.
    pub after: String,
}

impl Change {
    /// Something new.
    pub fn new(action: &'static str, subject: impl Into<String>, after: impl Into<String>) -> Self {
        Self { action, subject: subject.into(), before: String::new(), after: after.into() }
    }

    /// Something that was otherwise before.
    #[must_use]
    pub fn from(mut self, before: impl Into<String>) -> Self {
        self.before = before.into();
        self
    }
}

/// A row of the trail.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Entry {
    /// Its place in the trail, from 1.
    pub id: i64,
    /// When.
    pub at: DateTime<Utc>,
    /// Who; nobody for what the program did by itself.
    pub member_id: Option<MemberId>,
    /// Their name now.
    pub member_name: Option<String>,
    /// What was done.
    pub action: String,
    /// To what.
    pub subject: String,
    /// What stood before.
    pub before: String,
    /// What stood after.
    pub after: String,
    /// The seal of the row before.
    pub previous_hash: String,
    /// This row's seal.
    pub hash: String,
}

impl Entry {
    /// The seal that this row should carry: SHA-256 over its fields, each led by its length, and the seal before it.
    #[must_use]
    pub fn expected_hash(&self) -> String {
        seal(&[
            &self.previous_hash,
            &self.id.to_string(),
            &self.at.to_rfc3339(),
            &self.member_id.map_or_else(String::new, |id| id.to_string()),
            &self.action,
            &self.subject,
            &self.before,
            &self.after,
        ])
    }
}

fn seal(fields: &[&str]) -> String {
    let joined: String = fields.iter().map(|field| format!("{}:{field}\n", field.len())).collect();
    sha256_hex(joined.as_bytes())
}

/// Appends one row inside the caller's transaction.
pub(super) async fn append(db: &mut SqliteConnection, who: Option<MemberId>, at: DateTime<Utc>, change: &Change) -> sqlx::Result<()> {
    let last: Option<(i64, String)> =
        sqlx::query_as("SELECT id, hash FROM audit ORDER BY id DESC LIMIT 1").fetch_optional(&mut *db).await?;
    let (last_id, previous_hash) = last.unwrap_or((0, String::new()));
    let mut entry = Entry {
        id: last_id + 1,
        at,
        member_id: who,
        member_name: None,
        action: change.action.to_owned(),
        subject: change.subject.clone(),
        before: change.before.clone(),
        after: change.after.clone(),
        previous_hash,
        hash: String::new(),
    };
    entry.hash = entry.expected_hash();
    sqlx::query(
        "INSERT INTO audit (id, at, member_id, action, subject, before, after, previous_hash, hash)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(entry.id)
    .bind(entry.at)
    .bind(entry.member_id)
    .bind(&entry.action)
    .bind(&entry.subject)
    .bind(&entry.before)
    .bind(&entry.after)
    .bind(&entry.previous_hash)
    .bind(&entry.hash)
    .execute(db)
    .await?;
    Ok(())
}

/// The seal of the newest row and how many rows there are: what an outside anchor (a printout, a backup's note) keeps.
///
/// # Errors
/// The database can't be read.
pub async fn head(db: &mut SqliteConnection) -> sqlx::Result<(i64, String)> {
    let last: Option<(i64, String)> = sqlx::query_as("SELECT id, hash FROM audit ORDER BY id DESC LIMIT 1").fetch_optional(db).await?;
    Ok(last.unwrap_or((0, String::new())))
}

/// The seal of the first row: it is the same in every copy of one house's book, and of no other house's.
///
/// # Errors
/// The database can't be read.
pub async fn first(db: &mut SqliteConnection) -> sqlx::Result<Option<String>> {
    sqlx::query_scalar("SELECT hash FROM audit WHERE id = 1").fetch_optional(db).await
}

/// A stretch of the trail, oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn entries_after(db: &mut SqliteConnection, after: i64, limit: i64) -> sqlx::Result<Vec<Entry>> {
    sqlx::query_as(
        "SELECT audit.id, at, member_id, member.name AS member_name, action, subject, before, after, previous_hash, hash
         FROM audit LEFT JOIN member ON member.id = audit.member_id
         WHERE audit.id > ? ORDER BY audit.id LIMIT ?",
    )
    .bind(after)
    .bind(limit)
    .fetch_all(db)
    .await
}

/// The newest rows at or before a place in the trail, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn newest(db: &mut SqliteConnection, upto: i64, limit: i64) -> sqlx::Result<Vec<Entry>> {
    sqlx::query_as(
        "SELECT audit.id, at, member_id, member.name AS member_name, action, subject, before, after, previous_hash, hash
         FROM audit LEFT JOIN member ON member.id = audit.member_id
         WHERE audit.id <= ? ORDER BY audit.id DESC LIMIT ?",
    )
    .bind(upto)
    .bind(limit)
    .fetch_all(db)
    .await
}

/// Walks the whole trail and names the first row whose seal, or whose link to the row before, does not hold.
/// A chain alone can't show that its newest rows were cut off: compare [`head`] with a copy kept elsewhere.
///
/// # Errors
/// The database can't be read.
pub async fn verify(db: &mut SqliteConnection) -> sqlx::Result<Result<i64, String>> {
    let (mut last, mut hash) = (0_i64, String::new());
    loop {
        let entries = entries_after(&mut *db, last, 1000).await?;
        if entries.is_empty() {
            return Ok(Ok(last));
        }
        for entry in entries {
            if entry.id != last + 1 {
                return Ok(Err(format!("audit row {} is missing", last + 1)));
            }
            if entry.previous_hash != hash || entry.expected_hash() != entry.hash {
                return Ok(Err(format!("audit row {} does not hold: it or the row before was changed", entry.id)));
            }
            last = entry.id;
            hash = entry.hash;
        }
    }
}
