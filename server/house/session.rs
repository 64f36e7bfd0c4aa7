//! Sign-ins: a store for `tower-sessions` in the house's own database, and the typed session over it.
//! Only a hash of the cookie's value is kept, and both limits are kept here, whatever the cookie says.

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;
use time::OffsetDateTime;
use tower_sessions::session::{Id, Record};
use tower_sessions::session_store;
use tower_sessions::{Session, SessionStore};

use super::clock::Clock;
use super::database::Database;
use super::errors::AppError;
use super::ids::MemberId;
use super::secrets::{random_token, sha256_hex};

/// A sign-in ends after this long without a request.
const IDLE_MINUTES: i64 = 60;
/// A sign-in ends after this long, whatever happens.
const ABSOLUTE_HOURS: i64 = 12;

/// How long a sign-in lasts without a request.
#[must_use]
pub fn idle_limit() -> TimeDelta {
    TimeDelta::minutes(IDLE_MINUTES)
}

/// Keeps sessions in the `session` table.
#[derive(Debug, Clone)]
pub struct SqliteSessions {
    database: Database,
    clock: Clock,
}

impl SqliteSessions {
    /// A store over the house's database and clock.
    #[must_use]
    pub fn new(database: Database, clock: Clock) -> Self {
        Self { database, clock }
    }
}

#[derive(sqlx::FromRow)]
struct SessionRow {
    data: String,
    created_at: DateTime<Utc>,
    last_seen_at: DateTime<Utc>,
}

fn hash_of(id: &Id) -> String {
    sha256_hex(&id.0.to_be_bytes())
}

fn failed(error: impl std::fmt::Display) -> session_store::Error {
    session_store::Error::Backend(error.to_string())
}

#[async_trait::async_trait]
impl SessionStore for SqliteSessions {
    async fn create(&self, record: &mut Record) -> session_store::Result<()> {
        // Ids have 128 random bits; should two ever meet, the insert fails and the visitor asks again.
        self.write(
            record,
            "INSERT INTO session (id_hash, member_id, data, created_at, last_seen_at, expires_at) VALUES (?1, ?2, ?3, ?4, ?4, ?5)",
        )
        .await
    }

    async fn save(&self, record: &Record) -> session_store::Result<()> {
        self.write(
            record,
            "UPDATE session SET member_id = ?2, data = ?3, last_seen_at = ?4
             WHERE id_hash = ?1 AND ?5 IS NOT NULL",
        )
        .await
    }

    async fn load(&self, id: &Id) -> session_store::Result<Option<Record>> {
        let hash = hash_of(id);
        let row: Option<SessionRow> = sqlx::query_as("SELECT data, created_at, last_seen_at FROM session WHERE id_hash = ?")
            .bind(&hash)
            .fetch_optional(&self.database.reader)
            .await
            .map_err(failed)?;
        let now = self.clock.now();
        let Some(row) = row.filter(|row| is_alive(row, now)) else { return Ok(None) };
        if now - row.last_seen_at >= TimeDelta::minutes(1) {
            sqlx::query("UPDATE session SET last_seen_at = ? WHERE id_hash = ?")
                .bind(now)
                .bind(&hash)
                .execute(&self.database.writer)
                .await
                .map_err(failed)?;
        }
        let data = serde_json::from_str(&row.data).map_err(|error| session_store::Error::Decode(error.to_string()))?;
        Ok(Some(Record { id: *id, data, expiry_date: OffsetDateTime::UNIX_EPOCH + time::Duration::days(365 * 200) }))
    }

    async fn delete(&self, id: &Id) -> session_store::Result<()> {
        sqlx::query("DELETE FROM session WHERE id_hash = ?").bind(hash_of(id)).execute(&self.database.writer).await.map_err(failed)?;
        Ok(())
    }
}

impl SqliteSessions {
    async fn write(&self, record: &Record, statement: &'static str) -> session_store::Result<()> {
        let now = self.clock.now();
        let member: Option<i64> = record.data.get(MEMBER).and_then(serde_json::Value::as_i64);
        let data = serde_json::to_string(&record.data).map_err(|error| session_store::Error::Encode(error.to_string()))?;
        sqlx::query(statement)
            .bind(hash_of(&record.id))
            .bind(member)
            .bind(data)
            .bind(now)
            .bind(now + TimeDelta::hours(ABSOLUTE_HOURS))
            .execute(&self.database.writer)
            .await
            .map_err(failed)?;
        Ok(())
    }
}

/// A session whose clock ran backwards past its start is not revived: it counts as ended.
fn is_alive(row: &SessionRow, now: DateTime<Utc>) -> bool {
    let (age, idle) = (now - row.created_at, now - row.last_seen_at);
    age >= TimeDelta::zero() && age < TimeDelta::hours(ABSOLUTE_HOURS) && idle < TimeDelta::minutes(IDLE_MINUTES)
}

const MEMBER: &str = "member";
const TOKEN: &str = "token";
const FLASH: &str = "flash";
const THEME: &str = "theme";

/// A message that is shown once, on the next page.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Flash {
    /// What to say.
    pub text: String,
    /// Whether it must not be missed.
    pub warning: bool,
    /// What to do about it: an address of this house, and what it is called.
    #[serde(default)]
    pub offer: Option<(String, String)>,
}

/// The colours that a person chose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Theme {
    /// As the device says.
    #[default]
    Auto,
    /// Dark on light.
    Light,
    /// Light on dark.
    Dark,
    /// Red on black, for rooms that are kept dim.
    Dim,
}

impl Theme {
    /// Its code, as the page's root carries it.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::Light => "light",
            Self::Dark => "dark",
            Self::Dim => "dim",
        }
    }
}

impl std::str::FromStr for Theme {
    type Err = ();
    fn from_str(code: &str) -> Result<Self, ()> {
        [Self::Auto, Self::Light, Self::Dark, Self::Dim].into_iter().find(|theme| theme.code() == code).ok_or(())
    }
}

/// The session of one browser, typed: no string keys elsewhere.
#[derive(Debug, Clone)]
pub struct Visit(pub(super) Session);

impl Visit {
    /// Who is signed in with it.
    ///
    /// # Errors
    /// The store can't be read.
    pub async fn member(&self) -> Result<Option<MemberId>, AppError> {
        Ok(self.0.get::<i64>(MEMBER).await?.map(MemberId))
    }

    /// Signs a member in: a new id, a new token, nothing of the old session.
    ///
    /// # Errors
    /// The store can't be written.
    pub async fn sign_in(&self, member: MemberId) -> Result<(), AppError> {
        let theme = self.theme().await?;
        self.0.clear().await;
        // Not `flush`: that ends the old session in the store, but saves the new one under the old id.
        self.0.cycle_id().await?;
        self.0.insert(MEMBER, member.0).await?;
        self.0.insert(TOKEN, random_token()).await?;
        self.set_theme(theme).await
    }

    /// Ends the session, in the store too.
    ///
    /// # Errors
    /// The store can't be written.
    pub async fn sign_out(&self) -> Result<(), AppError> {
        Ok(self.0.flush().await?)
    }

    /// The token that forms carry; made when first asked for.
    ///
    /// # Errors
    /// The store can't be read or written.
    pub async fn token(&self) -> Result<String, AppError> {
        if let Some(token) = self.0.get::<String>(TOKEN).await? {
            return Ok(token);
        }
        let token = random_token();
        self.0.insert(TOKEN, &token).await?;
        Ok(token)
    }

    /// Refuses a form whose token is not this session's.
    ///
    /// # Errors
    /// A 403 when it is not.
    pub async fn check_token(&self, sent: &str) -> Result<(), AppError> {
        let known = self.0.get::<String>(TOKEN).await?.unwrap_or_default();
        // Hashes are compared, so that the time taken tells nothing of the token.
        if !known.is_empty() && sha256_hex(known.as_bytes()) == sha256_hex(sent.as_bytes()) {
            return Ok(());
        }
        Err(AppError::forbidden(
            "This form is from an earlier sign-in, so nothing was saved. Go back, copy what you typed if it is long, open the page again and send it from there.",
        ))
    }

    /// Says something on the next page.
    ///
    /// # Errors
    /// The store can't be written.
    pub async fn flash(&self, text: impl Into<String>, warning: bool) -> Result<(), AppError> {
        let mut waiting = self.0.get::<Vec<Flash>>(FLASH).await?.unwrap_or_default();
        waiting.push(Flash { text: text.into(), warning, offer: None });
        Ok(self.0.insert(FLASH, waiting).await?)
    }

    /// A message that must not be missed, with what to do about it: an address of this house, and what it is called.
    ///
    /// # Errors
    /// The store can't be read or written.
    pub async fn flash_offer(&self, text: impl Into<String>, address: &str, called: &str) -> Result<(), AppError> {
        let mut waiting = self.0.get::<Vec<Flash>>(FLASH).await?.unwrap_or_default();
        waiting.push(Flash { text: text.into(), warning: true, offer: Some((address.to_owned(), called.to_owned())) });
        Ok(self.0.insert(FLASH, waiting).await?)
    }

    /// What waits to be said; it is then gone.
    ///
    /// # Errors
    /// The store can't be read or written.
    pub async fn take_flash(&self) -> Result<Vec<Flash>, AppError> {
        if self.0.get_value(FLASH).await?.is_none() {
            return Ok(Vec::new());
        }
        Ok(self.0.remove::<Vec<Flash>>(FLASH).await?.unwrap_or_default())
    }

    /// The chosen colours.
    ///
    /// # Errors
    /// The store can't be read.
    pub async fn theme(&self) -> Result<Theme, AppError> {
        Ok(self.0.get::<Theme>(THEME).await?.unwrap_or_default())
    }

    /// Chooses colours.
    ///
    /// # Errors
    /// The store can't be written.
    pub async fn set_theme(&self, theme: Theme) -> Result<(), AppError> {
        Ok(self.0.insert(THEME, theme).await?)
    }

    /// The hash under which this session is kept, to tell it from a person's other sessions.
    #[must_use]
    pub fn id_hash(&self) -> String {
        self.0.id().map_or_else(String::new, |id| hash_of(&id))
    }
}

/// Notes on a session which device it is, for the list on the account page.
///
/// # Errors
/// The database can't be written.
pub async fn note_device(db: &mut SqliteConnection, id_hash: &str, device: &str) -> sqlx::Result<()> {
    let device: String = device.chars().filter(|letter| !letter.is_control()).take(120).collect();
    sqlx::query("UPDATE session SET device = ? WHERE id_hash = ?").bind(device).bind(id_hash).execute(db).await?;
    Ok(())
}

/// Ends all sessions of a member, but for one that may be kept.
///
/// # Errors
/// The database can't be written.
pub async fn end_all(db: &mut SqliteConnection, member: MemberId, keep: Option<&str>) -> sqlx::Result<u64> {
    let ended = sqlx::query("DELETE FROM session WHERE member_id = ? AND id_hash IS NOT ?").bind(member).bind(keep).execute(db).await?;
    Ok(ended.rows_affected())
}

/// Whose sign-in it was that has ended by itself, while its row is still there.
///
/// # Errors
/// The database can't be read.
pub async fn member_of_ended(db: &mut SqliteConnection, id_hash: &str) -> sqlx::Result<Option<MemberId>> {
    let member: Option<Option<MemberId>> =
        sqlx::query_scalar("SELECT member_id FROM session WHERE id_hash = ?").bind(id_hash).fetch_optional(db).await?;
    Ok(member.flatten())
}

/// Removes sessions and sent forms that are too old to matter.
///
/// # Errors
/// The database can't be written.
pub async fn sweep(db: &mut SqliteConnection, now: DateTime<Utc>) -> sqlx::Result<()> {
    sqlx::query("DELETE FROM session WHERE expires_at < ?").bind(now).execute(&mut *db).await?;
    sqlx::query("DELETE FROM sign_in_failure WHERE at < ?").bind(now - TimeDelta::hours(1)).execute(&mut *db).await?;
    sqlx::query("DELETE FROM submission WHERE at < ?").bind(now - TimeDelta::days(3)).execute(db).await?;
    Ok(())
}

impl Visit {
    /// A visit over a session that was made outside a request, as tests make it.
    #[must_use]
    pub fn new(session: Session) -> Self {
        Self(session)
    }

    /// Writes the session to its store.
    ///
    /// # Errors
    /// The store can't be written.
    pub async fn save(&self) -> Result<(), AppError> {
        Ok(self.0.save().await?)
    }

    /// The value that the session's cookie carries.
    #[must_use]
    pub fn cookie_value(&self) -> String {
        self.0.id().map_or_else(String::new, |id| id.to_string())
    }
}
