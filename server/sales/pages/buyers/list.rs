//! Finding a buyer.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Query, SignedIn};
use crate::house::layout::{Layout, Section, page};
use crate::sales::model::{Buyer, FoundBuyer};
use crate::sales::store;

/// The longest that is searched for, in characters: as long as a name may be.
const LONGEST: usize = 120;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::sales) struct Asked {
    q: String,
    page: String,
}

#[derive(Template)]
#[template(path = "sales/buyers/list.html")]
struct ListPage {
    layout: Layout,
    q: String,
    too_long: String,
    found: Vec<FoundBuyer>,
    buyers: Vec<Buyer>,
    number: i64,
    more: bool,
}

impl ListPage {
    /// Whether a page of newer ones comes before this one.
    fn has_newer(&self) -> bool {
        self.number > 0
    }
}

pub(in crate::sales) async fn list(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let q = asked.q.trim().to_owned();
    let too_long = if q.chars().count() > LONGEST { format!("Search for {LONGEST} characters at most.") } else { String::new() };
    let number = asked.page.parse().unwrap_or(0_i64).clamp(0, 100_000);
    let mut db = app.read().await?;
    let found = if q.is_empty() || !too_long.is_empty() { Vec::new() } else { store::find(&mut db, &q).await? };
    let mut buyers = if q.is_empty() { store::page_of_buyers(&mut db, number).await? } else { Vec::new() };
    let most = usize::try_from(store::PER_PAGE).unwrap_or(usize::MAX);
    let more = buyers.len() > most;
    buyers.truncate(most);
    page(&ListPage { layout: Layout::of(&app, &me, Section::Sales).await?, q, too_long, found, buyers, number, more })
}
