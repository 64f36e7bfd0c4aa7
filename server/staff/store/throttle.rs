//! Counting guesses, so that guessing a secret is slow, also after a restart. Each secret is counted by itself:
//! guesses at one person's never keep another out.

use chrono::TimeDelta;

use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::ids::{DeviceId, MemberId};
use crate::house::secrets::sha256_hex;

/// Guesses are counted over this long.
const MINUTES: i64 = 15;

/// The secret that is guessed at.
#[derive(Debug, Clone, Copy)]
pub enum Secret<'a> {
    /// The pass phrase behind a sign-in name, whether anybody has that name or not.
    Name(&'a str),
    /// The pass phrase of somebody who is signed in already.
    Again(MemberId),
    /// A member's PIN.
    Pin(MemberId),
    /// A member's PIN at a room's tablet, counted by itself: whoever guesses there keeps nobody's PIN from working elsewhere.
    PinAt(MemberId, DeviceId),
    /// Anybody's PIN at a room's tablet, so that many people's are not guessed at together.
    AnyPinAt(DeviceId),
}

impl Secret<'_> {
    /// How many guesses reach the hash in a quarter of an hour.
    fn most(self) -> i64 {
        match self {
            Self::Name(_) => 20,
            Self::Again(_) => 10,
            Self::Pin(_) | Self::PinAt(..) => 5,
            Self::AnyPinAt(_) => 15,
        }
    }

    /// Names are hashed, since people type pass phrases into the wrong field.
    fn key(self) -> String {
        let plain = match self {
            Self::Name(name) => format!("name {}", name.to_lowercase()),
            Self::Again(id) => format!("again {id}"),
            Self::Pin(id) => format!("pin {id}"),
            Self::PinAt(id, device) => format!("pin {id} at {device}"),
            Self::AnyPinAt(device) => format!("pins at {device}"),
        };
        sha256_hex(plain.as_bytes())
    }
}

/// A guess that was counted and may now be checked.
#[derive(Debug)]
pub struct Guess(i64);

/// Counts a guess before it is checked, so that many at once can't slip past the limit together.
///
/// # Errors
/// [`AppError::TooMany`] when the limit is reached.
pub async fn count(app: &App, secret: Secret<'_>) -> Result<Guess, AppError> {
    let now = app.now();
    let counted: Option<i64> = sqlx::query_scalar(
        "INSERT INTO sign_in_failure (name_hash, at)
         SELECT ?1, ?2 WHERE (SELECT COUNT(*) FROM sign_in_failure WHERE name_hash = ?1 AND at > ?3) < ?4
         RETURNING id",
    )
    .bind(secret.key())
    .bind(now)
    .bind(now - TimeDelta::minutes(MINUTES))
    .bind(secret.most())
    .fetch_optional(&app.database.writer)
    .await?;
    counted.map(Guess).ok_or_else(|| {
        AppError::TooMany(
            "There were too many wrong tries in the last quarter of an hour. Wait fifteen minutes and try again; everybody else can sign in as ever."
                .to_owned(),
        )
    })
}

/// The guess was right: it no longer counts.
///
/// # Errors
/// The database can't be written.
pub async fn was_right(app: &App, guess: Guess) -> Result<(), AppError> {
    sqlx::query("DELETE FROM sign_in_failure WHERE id = ?").bind(guess.0).execute(&app.database.writer).await?;
    Ok(())
}

/// The guess was wrong: says so in the log once, when it was the last that the limit lets through.
///
/// # Errors
/// The database can't be read.
pub async fn was_wrong(app: &App, secret: Secret<'_>) -> Result<(), AppError> {
    let wrong: i64 = sqlx::query_scalar("SELECT COUNT(*) FROM sign_in_failure WHERE name_hash = ? AND at > ?")
        .bind(secret.key())
        .bind(app.now() - TimeDelta::minutes(MINUTES))
        .fetch_one(&mut *app.read().await?)
        .await?;
    if wrong == secret.most() {
        tracing::warn!(event = "guessing.stopped", wrong, "wrong guesses at one secret reached the limit");
    }
    Ok(())
}
