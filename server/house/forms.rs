//! Forms: what was typed, what is wrong with it, and the checks that turn it into values.

use std::str::FromStr;

use axum::body::Bytes;
use axum::extract::{FromRequest, Request};
use axum::http::StatusCode;
use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, TimeZone as _, Utc};
use chrono_tz::Tz;
use serde::de::DeserializeOwned;

use super::app::App;
use super::errors::AppError;
use super::extract::{check_token, session_of};
use super::secrets::sha256_hex;

/// One thing to change before the form can be saved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mistake {
    /// The field's name, or empty for the form as a whole.
    pub field: &'static str,
    /// What to change, in words.
    pub message: String,
}

/// Everything that is wrong with a form, all at once.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Mistakes(Vec<Mistake>);

impl Mistakes {
    /// Nothing wrong (yet).
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// One mistake.
    pub fn one(field: &'static str, message: impl Into<String>) -> Self {
        Self(vec![Mistake { field, message: message.into() }])
    }

    /// Adds a mistake.
    pub fn add(&mut self, field: &'static str, message: impl Into<String>) {
        self.0.push(Mistake { field, message: message.into() });
    }

    /// Whether there is nothing to mend.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// All mistakes, in the order of the form.
    pub fn all(&self) -> impl Iterator<Item = &Mistake> {
        self.0.iter()
    }

    /// What is wrong with one field, as one text; empty when nothing is.
    #[must_use]
    pub fn of(&self, field: &str) -> String {
        self.0.iter().filter(|mistake| mistake.field == field).map(|mistake| mistake.message.as_str()).collect::<Vec<_>>().join(" ")
    }
}

/// Fields that hold secrets: they are typed anew rather than kept, and no hash is made of them that could be guessed at.
pub const SECRETS: [&str; 5] = ["pass_phrase", "again", "current", "pin", "second_pin"];

/// The one-time key of a form and the hash of what was sent with it.
#[derive(Debug, Clone)]
pub struct Once {
    /// The key that the form carried.
    pub key: String,
    /// SHA-256 over the address and the body without the tokens and the secrets.
    pub body_hash: String,
}

impl Once {
    /// The key of a form that goes to `path` with these fields.
    #[must_use]
    pub fn of(key: String, path: &str, fields: &Fields) -> Self {
        let mut told = url::form_urlencoded::Serializer::new(String::new());
        told.extend_pairs(fields.iter().filter(|(name, _)| !SECRETS.contains(&name.as_str())));
        Self { key, body_hash: sha256_hex(format!("{path}?{}", told.finish()).as_bytes()) }
    }
}

/// The fields of a form by name, as they came.
pub type Fields = Vec<(String, String)>;

/// Reads fields into `T`, which refuses those that it does not know.
///
/// # Errors
/// A 400 for a field that is not asked for.
pub fn read_fields<T: DeserializeOwned>(fields: &Fields) -> Result<T, AppError> {
    let mut text = url::form_urlencoded::Serializer::new(String::new());
    text.extend_pairs(fields);
    serde_html_form::from_str(&text.finish()).map_err(|error| {
        AppError::BadRequest(format!("This form holds something that the page does not ask for ({error}). Open the page again."))
    })
}

/// Takes a field out of a form; empty when it is not there.
pub fn take_field(fields: &mut Fields, name: &str) -> String {
    let place = fields.iter().position(|(known, _)| known == name);
    place.map_or_else(String::new, |place| fields.remove(place).1)
}

/// A form as typed: every field a string, checked for its token, read into `T`. `T` refuses fields that it does not know.
#[derive(Debug)]
pub struct Form<T> {
    /// What was typed.
    pub input: T,
    /// The form's one-time key.
    pub once: Once,
}

impl<T: DeserializeOwned> FromRequest<App> for Form<T> {
    type Rejection = AppError;

    async fn from_request(request: Request, app: &App) -> Result<Self, AppError> {
        let extensions = request.extensions().clone();
        let path = request.uri().path().to_owned();
        let body = Bytes::from_request(request, app).await.map_err(|error| too_large_or(&error))?;
        let mut fields: Fields = url::form_urlencoded::parse(&body).into_owned().collect();
        let (csrf, key) = (take_field(&mut fields, "csrf"), take_field(&mut fields, "once"));
        check_token(&extensions, &csrf).await?;
        let input = read_fields(&fields)?;
        Ok(Self { input, once: Once::of(checked_key(key)?, &path, &fields) })
    }
}

/// A form that only has its button.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ButtonForm {}

fn checked_key(key: String) -> Result<String, AppError> {
    if (16..=64).contains(&key.len()) && key.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_') {
        Ok(key)
    } else {
        Err(AppError::BadRequest("This form came without its one-time key. Open the page again and send it from there.".to_owned()))
    }
}

fn too_large_or(error: &axum::extract::rejection::BytesRejection) -> AppError {
    if error.status() == StatusCode::PAYLOAD_TOO_LARGE {
        return AppError::TooLarge;
    }
    AppError::BadRequest(format!("What was sent could not be read ({error}). Send it again."))
}

/// A file sent with a form, checked for its token. Text fields come along by name.
#[derive(Debug)]
pub struct Upload {
    /// The file's bytes; empty when none was chosen.
    pub file: Vec<u8>,
    /// The other fields.
    pub fields: Vec<(String, String)>,
    /// The form's one-time key.
    pub once: Once,
}

impl Upload {
    /// The value of a text field; empty when it was not sent.
    #[must_use]
    pub fn field(&self, name: &str) -> &str {
        self.fields.iter().find(|(key, _)| key == name).map_or("", |(_, value)| value)
    }
}

#[expect(clippy::disallowed_types, reason = "the one place that reads multipart bodies")]
impl FromRequest<App> for Upload {
    type Rejection = AppError;

    async fn from_request(request: Request, app: &App) -> Result<Self, AppError> {
        let session = session_of(request.extensions())?;
        let path = request.uri().path().to_owned();
        let unreadable = |error: axum::extract::multipart::MultipartError| {
            if error.status() == StatusCode::PAYLOAD_TOO_LARGE {
                return AppError::TooLarge;
            }
            AppError::BadRequest(format!("The file could not be read ({error}). Choose it again; files up to 16 MiB are taken."))
        };
        let mut parts = axum::extract::Multipart::from_request(request, app)
            .await
            .map_err(|_| AppError::BadRequest("This page takes a file. Choose one and send the form again.".to_owned()))?;
        let (mut csrf, mut key, mut file, mut fields) = (String::new(), String::new(), Vec::new(), Vec::new());
        while let Some(part) = parts.next_field().await.map_err(unreadable)? {
            match part.name().unwrap_or_default().to_owned().as_str() {
                "csrf" => csrf = part.text().await.map_err(unreadable)?,
                "once" => key = part.text().await.map_err(unreadable)?,
                "file" => file = part.bytes().await.map_err(unreadable)?.to_vec(),
                name => fields.push((name.to_owned(), part.text().await.map_err(unreadable)?)),
            }
        }
        session.check_token(&csrf).await?;
        let mut whole = format!("{path}?{fields:?}").into_bytes();
        whole.extend_from_slice(&file);
        Ok(Self { file, fields, once: Once { key: checked_key(key)?, body_hash: sha256_hex(&whole) } })
    }
}

/// Reads fields one by one, noting every mistake; a field that fails gives `None`.
#[derive(Debug, Default)]
pub struct Check(Mistakes);

impl Check {
    /// A check that has found nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Notes a mistake.
    pub fn add(&mut self, field: &'static str, message: impl Into<String>) {
        self.0.add(field, message);
    }

    /// Whether nothing is wrong so far.
    #[must_use]
    pub fn ok(&self) -> bool {
        self.0.is_empty()
    }

    /// All that was found.
    #[must_use]
    pub fn mistakes(self) -> Mistakes {
        self.0
    }

    /// A text of one line, 1 to `most` characters, trimmed.
    pub fn text(&mut self, field: &'static str, typed: &str, most: usize) -> Option<String> {
        let text = self.optional_text(field, typed, most)?;
        if text.is_empty() {
            self.add(field, "Fill this in.");
            return None;
        }
        Some(text)
    }

    /// A text of one line that may be empty, at most `most` characters, trimmed.
    pub fn optional_text(&mut self, field: &'static str, typed: &str, most: usize) -> Option<String> {
        if typed.trim().contains(['\n', '\r']) {
            self.add(field, "Write this on one line.");
            return None;
        }
        self.paragraphs(field, typed, most)
    }

    /// A text of several lines that may be empty, at most `most` characters, trimmed.
    pub fn paragraphs(&mut self, field: &'static str, typed: &str, most: usize) -> Option<String> {
        let text = typed.trim().replace("\r\n", "\n");
        let length = text.chars().count();
        if length > most {
            self.add(field, format!("This has {length} characters; at most {most} fit."));
            return None;
        }
        if text.chars().any(|letter| (letter.is_control() && letter != '\n') || is_direction_control(letter)) {
            self.add(field, "This holds characters that can't be seen. Type it again without pasting.");
            return None;
        }
        Some(text)
    }

    /// A whole number in a range.
    pub fn whole<N>(&mut self, field: &'static str, typed: &str, range: std::ops::RangeInclusive<N>) -> Option<N>
    where
        N: FromStr + PartialOrd + std::fmt::Display + Copy,
    {
        let number = typed.trim().parse::<N>().ok().filter(|number| range.contains(number));
        if number.is_none() {
            let (least, most) = (range.start(), range.end());
            self.add(field, format!("Enter a whole number from {least} to {most}."));
        }
        number
    }

    /// A whole number in a range, or nothing.
    pub fn optional_whole<N>(&mut self, field: &'static str, typed: &str, range: std::ops::RangeInclusive<N>) -> Option<N>
    where
        N: FromStr + PartialOrd + std::fmt::Display + Copy,
    {
        if typed.trim().is_empty() { None } else { self.whole(field, typed, range) }
    }

    /// A number with at most one decimal place, in tenths, or nothing. A comma may stand for the point.
    pub fn optional_tenths(&mut self, field: &'static str, typed: &str, range: std::ops::RangeInclusive<i64>) -> Option<i64> {
        let typed = typed.trim().replace(',', ".").replace('−', "-");
        if typed.is_empty() {
            return None;
        }
        let tenths = tenths(&typed).filter(|tenths| range.contains(tenths));
        if tenths.is_none() {
            let (least, most) = (range.start() / 10, range.end() / 10);
            self.add(field, format!("Enter a number from {least} to {most} with at most one decimal place, such as 24.5."));
        }
        tenths
    }

    /// An hour of a day in the site's zone, as an instant that is not after `now`. In the hour that comes twice when clocks go
    /// back, the first.
    pub fn hour(&mut self, field: &'static str, typed: &str, day: NaiveDate, zone: Tz, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
        let Ok(hour) = NaiveTime::parse_from_str(typed.trim(), "%H:%M") else {
            self.add(field, "Enter a time as hours and minutes, such as 18:30.");
            return None;
        };
        let Some(at) = zone.from_local_datetime(&day.and_time(hour)).earliest() else {
            self.add(field, "Clocks jumped over this time on this day. Enter one before or after it.");
            return None;
        };
        if at > now {
            self.add(field, "This time is still to come.");
            return None;
        }
        Some(at.to_utc())
    }

    /// A day that is not after `latest` and not more than 40 years before it.
    pub fn day(&mut self, field: &'static str, typed: &str, latest: NaiveDate) -> Option<NaiveDate> {
        let Ok(day) = NaiveDate::parse_from_str(typed.trim(), "%Y-%m-%d") else {
            self.add(field, "Enter a day as year-month-day, such as 2026-03-29.");
            return None;
        };
        if day > latest {
            self.add(field, format!("This day is still to come; the latest possible is {latest}."));
            return None;
        }
        if day < latest - TimeDelta::days(40 * 366) {
            self.add(field, "This day is more than 40 years ago. Check the year.");
            return None;
        }
        Some(day)
    }

    /// A day, or nothing.
    pub fn optional_day(&mut self, field: &'static str, typed: &str, latest: NaiveDate) -> Option<NaiveDate> {
        if typed.trim().is_empty() { None } else { self.day(field, typed, latest) }
    }

    /// A day from `earliest` up to ten years on: the end of something.
    pub fn coming_day(&mut self, field: &'static str, typed: &str, earliest: NaiveDate) -> Option<NaiveDate> {
        let Ok(day) = NaiveDate::parse_from_str(typed.trim(), "%Y-%m-%d") else {
            self.add(field, "Enter a day as year-month-day, such as 2026-03-29.");
            return None;
        };
        if day < earliest || day > earliest + TimeDelta::days(3660) {
            self.add(field, format!("Enter a day from {earliest} on, at most ten years ahead."));
            return None;
        }
        Some(day)
    }

    /// One of a list of choices, by its code.
    pub fn choice<C: FromStr>(&mut self, field: &'static str, typed: &str) -> Option<C> {
        let choice = typed.trim().parse().ok();
        if choice.is_none() {
            self.add(field, "Choose one of the list.");
        }
        choice
    }

    /// One of a list of choices by its code, or nothing.
    pub fn optional_choice<C: FromStr>(&mut self, field: &'static str, typed: &str) -> Option<C> {
        if typed.trim().is_empty() { None } else { self.choice(field, typed) }
    }
}

/// A number with at most one decimal place, in tenths.
fn tenths(typed: &str) -> Option<i64> {
    let (whole, decimal) = typed.split_once('.').unwrap_or((typed, "0"));
    let digits = whole.strip_prefix('-').unwrap_or(whole);
    let sound =
        (1..=4).contains(&digits.len()) && decimal.len() == 1 && digits.bytes().chain(decimal.bytes()).all(|byte| byte.is_ascii_digit());
    if !sound {
        return None;
    }
    let size = digits.parse::<i64>().ok()? * 10 + decimal.parse::<i64>().ok()?;
    Some(if whole.starts_with('-') { -size } else { size })
}

/// Characters that turn the reading direction and so could make one text look like another.
fn is_direction_control(letter: char) -> bool {
    matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}')
}
