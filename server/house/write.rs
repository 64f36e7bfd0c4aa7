//! The one way to change something: a transaction begun at once, which leaves exactly one audit row when it commits.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::{Sqlite, SqliteConnection, Transaction};

use super::app::App;
use super::audit::{self, Change};
use super::errors::AppError;
use super::forms::Once;
use super::ids::MemberId;

/// An open change: who makes it, when, and the transaction. Dropped without a commit, it leaves nothing.
pub struct Write {
    transaction: Transaction<'static, Sqlite>,
    /// Who makes the change; nobody for what the program does by itself.
    pub who: Option<MemberId>,
    /// The instant of the change.
    pub at: DateTime<Utc>,
    /// The local day of the change.
    pub today: NaiveDate,
    /// When what is written was done: at the instant of the change, or before it when it waited for the wireless.
    pub made_at: DateTime<Utc>,
    /// The local day on which it was done.
    pub made_on: NaiveDate,
    /// The site's zone.
    pub zone: Tz,
    once: Option<(MemberId, Once)>,
}

impl Write {
    /// The connection to write with.
    pub fn db(&mut self) -> &mut SqliteConnection {
        &mut self.transaction
    }

    /// What is written from here on was done at an earlier instant. The change itself, and the day that is planned, stay those of now.
    pub fn done_at(&mut self, made_at: DateTime<Utc>) {
        self.made_at = made_at;
        self.made_on = super::clock::local_date(self.zone, made_at);
    }

    /// Commits with one audit row. `location` is where the sender of a form is sent: a second sending of the same form goes there too.
    ///
    /// # Errors
    /// The database can't be written.
    pub async fn commit(mut self, change: Change, location: &str) -> Result<(), AppError> {
        audit::append(&mut self.transaction, self.who, self.at, &change).await?;
        if let Some((member, once)) = &self.once {
            sqlx::query("INSERT INTO submission (member_id, once_key, body_hash, location, at) VALUES (?, ?, ?, ?, ?)")
                .bind(member)
                .bind(&once.key)
                .bind(&once.body_hash)
                .bind(location)
                .bind(self.at)
                .execute(&mut *self.transaction)
                .await?;
        }
        self.transaction.commit().await?;
        tracing::info!(action = change.action, subject = %change.subject, member = self.who.map(|id| id.0), "changed");
        Ok(())
    }
}

impl App {
    /// Begins a change that no form carries: the command line, the planner, the demo.
    ///
    /// # Errors
    /// The database can't be written.
    pub async fn write(&self, who: Option<MemberId>) -> Result<Write, AppError> {
        let transaction = self.database.writer.begin_with("BEGIN IMMEDIATE").await?;
        let at = self.clock.now();
        let zone = self.site().zone;
        let today = super::clock::local_date(zone, at);
        Ok(Write { transaction, who, at, today, made_at: at, made_on: today, zone, once: None })
    }

    /// Begins the change that a form asks for.
    ///
    /// # Errors
    /// [`AppError::Repeat`] when this very form was carried out before (a double click, a retry); a conflict when its
    /// one-time key was used for something else.
    pub async fn begin(&self, member: MemberId, once: &Once) -> Result<Write, AppError> {
        let mut write = self.write(Some(member)).await?;
        let sent: Option<(String, String, DateTime<Utc>)> =
            sqlx::query_as("SELECT body_hash, location, at FROM submission WHERE member_id = ? AND once_key = ?")
                .bind(member)
                .bind(&once.key)
                .fetch_optional(write.db())
                .await?;
        match sent {
            None => {
                write.once = Some((member, once.clone()));
                Ok(write)
            }
            Some((body_hash, location, at)) if body_hash == once.body_hash => Err(AppError::Repeat { location, at }),
            Some(_) => Err(AppError::conflict(
                "This form was sent before with other entries, and those were saved. Open the page again and enter the change there.",
            )),
        }
    }
}
