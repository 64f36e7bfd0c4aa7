//! Pages of the search and of the audit trail.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;
use serde::Deserialize;

use super::model::Found;
use super::store;
use crate::house::access::May;
use crate::house::app::App;
use crate::house::audit::{self, Entry};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::layout::{Layout, Section, page};

/// How many rows of the trail a page shows.
const ROWS: i64 = 100;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    q: String,
}

#[derive(Template)]
#[template(path = "records/search.html")]
struct SearchPage {
    layout: Layout,
    q: String,
    too_long: &'static str,
    found: Found,
}

pub(super) async fn search(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let text = asked.q.trim();
    let is_long = text.chars().count() > 80;
    let found = if text.is_empty() || is_long { Found::default() } else { look_for(&app, &me, text).await? };
    let too_long = if is_long { "Search for 80 characters at most." } else { "" };
    page(&SearchPage { layout: Layout::of(&app, &me, Section::Records).await?, q: text.to_owned(), too_long, found })
}

async fn look_for(app: &App, me: &SignedIn, text: &str) -> Result<Found, AppError> {
    let mut db = app.read().await?;
    let buyers = if May::Sell.allows(&me.member) { store::buyers(&mut db, text).await? } else { Vec::new() };
    Ok(Found {
        animals: store::animals(&mut db, text).await?,
        cohorts: store::cohorts(&mut db, text).await?,
        species: store::species(&mut db, text).await?,
        buyers,
    })
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct AskedTrail {
    upto: Option<i64>,
    subject: String,
}

#[derive(Template)]
#[template(path = "records/audit.html")]
struct AuditPage {
    layout: Layout,
    entries: Vec<Entry>,
    subject: String,
    /// The place to go on from; nothing on the last page.
    older: Option<i64>,
    rows: i64,
    seal: String,
    zone: Tz,
}

impl AuditPage {
    /// The beginning of a seal: enough to compare by eye.
    fn short(&self, seal: &str) -> String {
        seal.chars().take(12).collect()
    }
}

pub(super) async fn audit(State(app): State<App>, me: SignedIn, Query(asked): Query<AskedTrail>) -> Answer {
    let mut db = app.read().await?;
    let subject: String = asked.subject.trim().chars().take(80).collect();
    let entries = store::trail(&mut db, asked.upto.unwrap_or(i64::MAX), &subject, ROWS).await?;
    let full = i64::try_from(entries.len()).is_ok_and(|shown| shown == ROWS);
    let older = entries.last().filter(|entry| full && entry.id > 1).map(|entry| entry.id - 1);
    let (rows, seal) = audit::head(&mut db).await?;
    let zone = app.site().zone;
    page(&AuditPage { layout: Layout::of(&app, &me, Section::Records).await?, entries, subject, older, rows, seal, zone })
}
