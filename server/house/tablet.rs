//! A room's tablet, signed in as itself: how its browser is known, and what it may open. No member is ever signed in on it.

use axum::extract::FromRequestParts;
use axum::http::header::COOKIE;
use axum::http::{Extensions, HeaderMap, HeaderValue, request::Parts};
use chrono::TimeDelta;

use super::app::App;
use super::errors::AppError;
use super::ids::{DeviceId, RoomId};
use super::secrets::{random_token, sha256_hex};
use super::session::Theme;

/// A tablet that was not used for so many days must be opened anew.
const UNUSED_DAYS: i64 = 30;

/// How long its browser keeps the cookie, in seconds: the longest that browsers allow. The house ends it sooner.
const COOKIE_SECONDS: u32 = 400 * 24 * 60 * 60;

/// A room's tablet, as it stands at this request.
#[derive(Debug, Clone)]
pub struct Device {
    /// Its id.
    pub id: DeviceId,
    /// Its name, as lists show it.
    pub name: String,
    /// The room whose round it shows.
    pub room_id: RoomId,
    /// The room's name.
    pub room_name: String,
    /// Its colours.
    pub theme: Theme,
    /// The token that its forms carry.
    token: String,
}

#[derive(sqlx::FromRow)]
struct DeviceRow {
    id: DeviceId,
    name: String,
    room_id: RoomId,
    room_name: String,
    theme: String,
    seen: bool,
}

impl Device {
    /// Refuses a form that does not come from this tablet's own page.
    ///
    /// # Errors
    /// A 403 when it does not.
    pub fn check_token(&self, sent: &str) -> Result<(), AppError> {
        // Hashes are compared, so that the time taken tells nothing of the token.
        if sha256_hex(self.token.as_bytes()) == sha256_hex(sent.as_bytes()) {
            return Ok(());
        }
        Err(AppError::forbidden("This form is from an earlier sign-in of the tablet, so nothing was saved. Open the room's round again."))
    }
}

/// The tablet of this request.
pub(super) fn device_of(extensions: &Extensions) -> Option<&Device> {
    extensions.get::<Device>()
}

impl FromRequestParts<App> for Device {
    type Rejection = AppError;

    async fn from_request_parts(parts: &mut Parts, _app: &App) -> Result<Self, AppError> {
        device_of(&parts.extensions).cloned().ok_or_else(not_a_tablet)
    }
}

/// What members and visitors are told at a tablet's pages.
pub(super) fn not_a_tablet() -> AppError {
    AppError::forbidden("This page is for a room's tablet, which is signed in as itself. A lead opens one under “Room tablets”.")
}

/// Whether a page that is open to anybody is open to tablets too: files, health, and the address that makes a browser a tablet.
pub(super) fn open_to_tablets(path: &str) -> bool {
    path.starts_with("/static/") || path.starts_with("/tablet/open/") || matches!(path, "/healthz" | "/readyz")
}

fn cookie_name(app: &App) -> &'static str {
    if app.config.secure { "__Host-silkward-tablet" } else { "silkward-tablet" }
}

/// The cookie that makes a browser this tablet.
#[must_use]
pub fn cookie(app: &App, token: &str) -> Option<HeaderValue> {
    let secure = if app.config.secure { "; Secure" } else { "" };
    let text = format!("{}={token}; HttpOnly{secure}; SameSite=Lax; Path=/; Max-Age={COOKIE_SECONDS}", cookie_name(app));
    HeaderValue::try_from(text).ok()
}

fn sent(app: &App, headers: &HeaderMap) -> Option<String> {
    let all = headers.get_all(COOKIE).iter().filter_map(|line| line.to_str().ok()).flat_map(|line| line.split(';'));
    let mut pairs = all.filter_map(|pair| pair.trim().split_once('='));
    pairs.find(|(name, _)| *name == cookie_name(app)).map(|(_, value)| value.to_owned())
}

/// The tablet that asks, afresh at every request, so that a revoked one is so at once. Notes once a minute that it was seen.
///
/// # Errors
/// The database can't be read or written.
pub(super) async fn recognise(app: &App, headers: &HeaderMap) -> Result<Option<Device>, AppError> {
    let Some(value) = sent(app, headers).filter(|value| value.len() >= random_token().len()) else { return Ok(None) };
    let now = app.now();
    let row: Option<DeviceRow> = sqlx::query_as(
        "SELECT device.id, device.name, device.room_id, room.name AS room_name, device.theme, device.last_seen_at > ?3 AS seen
         FROM device JOIN room ON room.id = device.room_id
         WHERE device.token_hash = ?1 AND device.revoked_at IS NULL AND device.last_seen_at > ?2",
    )
    .bind(sha256_hex(value.as_bytes()))
    .bind(now - TimeDelta::days(UNUSED_DAYS))
    .bind(now - TimeDelta::minutes(1))
    .fetch_optional(&mut *app.read().await?)
    .await?;
    let Some(row) = row else { return Ok(None) };
    if !row.seen {
        sqlx::query("UPDATE device SET last_seen_at = ? WHERE id = ? AND revoked_at IS NULL")
            .bind(now)
            .bind(row.id)
            .execute(&app.database.writer)
            .await?;
    }
    let token = sha256_hex(format!("forms of the tablet {value}").as_bytes());
    let theme = row.theme.parse().unwrap_or_default();
    Ok(Some(Device { id: row.id, name: row.name, room_id: row.room_id, room_name: row.room_name, theme, token }))
}

/// What a tablet's page has around it: the room and its colours, no navigation.
#[derive(Debug)]
pub struct TabletFrame {
    /// The tablet.
    pub device: Device,
    /// The token that forms carry.
    pub token: String,
    /// The chosen colours.
    pub theme: Theme,
}

impl TabletFrame {
    /// The frame of a page of this tablet.
    #[must_use]
    pub fn of(device: &Device) -> Self {
        Self { token: device.token.clone(), theme: device.theme, device: device.clone() }
    }

    /// A fresh one-time key for a form: each form on a page has its own.
    #[must_use]
    pub fn once(&self) -> String {
        random_token()
    }
}
