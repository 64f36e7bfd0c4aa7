//! Pass phrases and PINs: what may be chosen, and how they are kept. Hashes are Argon2id in the PHC string format, at the
//! cost that OWASP's Password Storage Cheat Sheet names as its least (19 MiB, 2 passes, 1 lane); a hash of lower cost is
//! replaced at the next sign-in. Pass phrases are compared in Unicode's normal form C, so that "é" is one letter however a
//! keyboard makes it.

use std::time::Duration;

use argon2::password_hash::phc::PasswordHash;
use argon2::{Algorithm, Argon2, Params, PasswordHasher as _, PasswordVerifier as _, Version};
use unicode_normalization::UnicodeNormalization as _;

use super::store;
use super::store::throttle::{self, Secret};
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::ids::{DeviceId, MemberId};

/// The least and the greatest length in characters (Unicode code points): NIST SP 800-63B-4 asks for 15 where a pass phrase
/// stands alone.
pub const LENGTH: std::ops::RangeInclusive<usize> = 15..=256;

/// KiB of memory, passes, lanes.
const COST: (u32, u32, u32) = (19_456, 2, 1);

/// How long a pass phrase may wait for its turn to be hashed.
const PATIENCE: Duration = Duration::from_secs(4);

/// A hash of the usual cost that nothing opens: an unknown name is checked against it, so that it takes as long as a known one.
const NOBODYS: &str = "$argon2id$v=19$m=19456,t=2,p=1$bm9ib2R5LXNpZ25zLWlu$8v0bq2dV3n1QJb0mXg7m5yH1cTz4kWc9eR6uP2sLxAo";

/// Words that everybody would guess here.
const GUESSED: [&str; 8] = ["tarantula", "tarantulas", "spider", "spiders", "silkward", "spiderling", "password", "passphrase"];

/// Hashes a pass phrase or a PIN.
///
/// # Errors
/// [`AppError::TooMany`] when many others wait for theirs.
pub async fn hash(app: &App, typed: &str) -> Result<String, AppError> {
    let typed = normal(typed);
    in_turn(app, move || {
        let hashed =
            hasher()?.hash_password(typed.as_bytes()).map_err(|error| anyhow::anyhow!("a pass phrase could not be hashed: {error}"))?;
        Ok(hashed.to_string())
    })
    .await
}

/// Whether what was typed belongs to a hash. A hash that can't be read belongs to nothing, and takes as long to say so.
///
/// # Errors
/// [`AppError::TooMany`] when many others wait for theirs.
pub async fn verify(app: &App, hash: &str, typed: &str) -> Result<bool, AppError> {
    let typed = normal(typed);
    let readable = PasswordHash::new(hash).is_ok();
    let hash = if readable { hash.to_owned() } else { NOBODYS.to_owned() };
    in_turn(app, move || {
        let known = PasswordHash::new(&hash).map_err(|error| anyhow::anyhow!("a stored hash can't be read: {error}"))?;
        Ok(hasher()?.verify_password(typed.as_bytes(), &known).is_ok() && readable)
    })
    .await
}

/// Takes as long as [`verify`] for a name that nobody has.
///
/// # Errors
/// [`AppError::TooMany`] when many others wait for theirs.
pub async fn verify_nobody(app: &App, typed: &str) -> Result<(), AppError> {
    verify(app, NOBODYS, typed).await.map(drop)
}

/// Whether a hash was made at a lower cost than today's.
#[must_use]
pub fn is_weak(hash: &str) -> bool {
    let Some(params) = PasswordHash::new(hash).ok().and_then(|hash| Params::try_from(&hash).ok()) else { return true };
    params.m_cost() < COST.0 || params.t_cost() < COST.1
}

/// Whether a member's PIN is right. Call it before a change begins: it counts the guess in the database by itself.
/// Somebody who has no PIN, or who may not sign in, confirms nothing.
///
/// # Errors
/// [`AppError::TooMany`] after five wrong guesses in a quarter of an hour.
pub async fn verify_pin(app: &App, member: MemberId, pin: &str) -> Result<bool, AppError> {
    let hash = store::pin_hash(&mut *app.read().await?, member).await?.unwrap_or_else(|| NOBODYS.to_owned());
    guess(app, Secret::Pin(member), &hash, pin.trim()).await
}

/// Whether a member's PIN is right that was typed at a room's tablet. Call it before a change begins. A PIN signs there, and
/// opens nothing else.
///
/// # Errors
/// [`AppError::TooMany`] after five wrong guesses at this person's, or fifteen at anybody's, at this tablet in a quarter of an hour.
pub async fn verify_pin_at(app: &App, device: DeviceId, member: MemberId, pin: &str) -> Result<bool, AppError> {
    let too_many = |error| {
        match error {
        AppError::TooMany(_) => AppError::TooMany(
            "There were too many wrong PINs at this tablet in the last quarter of an hour. Sign on your own phone, or wait fifteen minutes."
                .to_owned(),
        ),
        other => other,
    }
    };
    let counted = throttle::count(app, Secret::AnyPinAt(device)).await.map_err(too_many)?;
    let hash = store::pin_hash(&mut *app.read().await?, member).await?.unwrap_or_else(|| NOBODYS.to_owned());
    let right = guess(app, Secret::PinAt(member, device), &hash, pin.trim()).await;
    match right {
        Ok(false) => throttle::was_wrong(app, Secret::AnyPinAt(device)).await?,
        // What was right, or was not tried, does not use the others' tries up.
        Ok(true) | Err(_) => throttle::was_right(app, counted).await?,
    }
    right.map_err(too_many)
}

/// Whether the pass phrase of somebody who is signed in is right, for what asks for it again. Call it before a change begins.
///
/// # Errors
/// [`AppError::TooMany`] after ten wrong guesses in a quarter of an hour.
pub async fn verify_again(app: &App, member: MemberId, typed: &str) -> Result<bool, AppError> {
    let hash = store::pass_hash(&mut *app.read().await?, member).await?;
    guess(app, Secret::Again(member), &hash, typed).await
}

/// A counted check.
async fn guess(app: &App, secret: Secret<'_>, hash: &str, typed: &str) -> Result<bool, AppError> {
    let counted = throttle::count(app, secret).await?;
    let right = verify(app, hash, typed).await?;
    if right {
        throttle::was_right(app, counted).await?;
    } else {
        throttle::was_wrong(app, secret).await?;
    }
    Ok(right)
}

/// Says what is wrong with a pass phrase that somebody wants: its length, or that others would guess it. Any characters do.
#[must_use]
pub fn fault(typed: &str, sign_in_name: &str, site_name: &str) -> Option<String> {
    let typed = normal(typed);
    let length = typed.chars().count();
    if !LENGTH.contains(&length) {
        let (least, most) = (LENGTH.start(), LENGTH.end());
        return Some(format!(
            "This has {length} characters; choose from {least} to {most}. Four or five words that mean nothing together do well."
        ));
    }
    let letters = letters_of(&typed);
    let named = [letters_of(sign_in_name), letters_of(site_name)];
    let guessed = GUESSED.iter().map(|word| (*word).to_owned()).chain(named);
    if guessed.into_iter().any(|word| is_repeated(&letters, &word)) {
        return Some("Others would guess this: it is a name or a word of this trade with figures or signs. Choose words that only you would put together.".to_owned());
    }
    let count = letters.chars().count();
    let mut starts = (1..=count / 2).map(|most| letters.chars().take(most).collect::<String>());
    if count * 2 > length && starts.any(|word| is_repeated(&letters, &word)) {
        return Some("This is one word or letter over and over. Choose several different words.".to_owned());
    }
    None
}

/// Says what is wrong with a PIN that somebody wants.
#[must_use]
pub fn pin_fault(pin: &str) -> Option<&'static str> {
    let digits: Vec<i16> = pin.bytes().filter(u8::is_ascii_digit).map(i16::from).collect();
    if digits.len() != 6 || pin.len() != 6 {
        return Some("A PIN has exactly six figures.");
    }
    let steps: Vec<i16> = digits.iter().zip(digits.iter().skip(1)).map(|(one, next)| next - one).collect();
    let is_run = [-1, 0, 1].iter().any(|step| steps.iter().all(|found| found == step));
    let repeats = |length: usize| digits.iter().zip(digits.iter().skip(length)).all(|(one, next)| one == next);
    (is_run || repeats(2) || repeats(3)).then_some("Everybody tries this one. Choose six figures without a pattern.")
}

/// Unicode's normal form C.
fn normal(typed: &str) -> String {
    typed.nfc().collect()
}

fn letters_of(text: &str) -> String {
    text.chars().filter(|letter| letter.is_alphabetic()).flat_map(char::to_lowercase).collect()
}

fn is_repeated(text: &str, word: &str) -> bool {
    !word.is_empty() && !text.is_empty() && text.replace(word, "").is_empty()
}

fn hasher() -> anyhow::Result<Argon2<'static>> {
    let (memory, passes, lanes) = COST;
    let params = Params::new(memory, passes, lanes, None).map_err(|error| anyhow::anyhow!("argon2 refuses its cost: {error}"))?;
    Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
}

/// Runs one hashing off the async threads, a few at a time. The permit goes along with the work, so that somebody who hangs
/// up does not let one more begin.
async fn in_turn<T: Send + 'static>(app: &App, work: impl FnOnce() -> anyhow::Result<T> + Send + 'static) -> Result<T, AppError> {
    let permit = match tokio::time::timeout(PATIENCE, app.hashing.clone().acquire_owned()).await {
        Ok(permit) => permit.map_err(anyhow::Error::from)?,
        Err(_) => {
            return Err(AppError::TooMany(
                "Many people sign in at this moment. Wait half a minute and try again: nothing was saved.".to_owned(),
            ));
        }
    };
    let done = tokio::task::spawn_blocking(move || {
        let result = work();
        drop(permit);
        result
    });
    Ok(done.await.map_err(anyhow::Error::from)??)
}
