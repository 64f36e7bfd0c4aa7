//! Prey for the coming days: what to prepare, what will be eaten of it, and how long the stock lasts.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::chart::{self, Figures};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Mistakes};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::text;
use crate::reckoning::prey::{PeriodNeed, PlannedFeed, days_of_stock, need, period_need};
use crate::rounds::store;

/// How many days are looked ahead.
const DAYS: u32 = 7;

/// What is on hand, as typed: kinds and numbers stand in the same order.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::rounds) struct OnHand {
    kind: Vec<String>,
    on_hand: Vec<String>,
}

/// One kind of prey over the whole time.
struct KindLine {
    need: PeriodNeed,
    typed: String,
    lasts: Option<String>,
}

#[derive(Template)]
#[template(path = "rounds/prey.html")]
struct PreyPage {
    layout: Layout,
    kinds: Vec<KindLine>,
    days: Figures,
    mistakes: Mistakes,
}

pub(in crate::rounds) async fn prey(State(app): State<App>, me: SignedIn, Query(asked): Query<OnHand>) -> Answer {
    let feeds = store::prey::coming_feeds(&mut *app.read().await?, app.now(), app.site().zone, DAYS).await?;
    let layout = Layout::of(&app, &me, Section::Today).await?;
    let (kinds, mistakes) = kinds(&feeds, &asked)?;
    let shown = PreyPage { layout, kinds, days: by_day(&feeds)?, mistakes };
    if shown.mistakes.is_empty() { page(&shown) } else { page_again(&shown) }
}

pub(in crate::rounds) async fn prey_csv(State(app): State<App>) -> Answer {
    let feeds = store::prey::coming_feeds(&mut *app.read().await?, app.now(), app.site().zone, DAYS).await?;
    chart::download(&by_day(&feeds)?, "prey")
}

fn kinds(feeds: &[PlannedFeed], asked: &OnHand) -> Result<(Vec<KindLine>, Mistakes), AppError> {
    let mut check = Check::new();
    let mut lines = Vec::new();
    for need in period_need(feeds).map_err(|error| AppError::Internal(error.into()))? {
        let typed = asked.kind.iter().position(|kind| *kind == need.kind).and_then(|at| asked.on_hand.get(at)).cloned().unwrap_or_default();
        let on_hand: Option<u32> = check.optional_whole("on_hand", &typed, 0..=1_000_000);
        let own: Vec<PlannedFeed> = feeds.iter().filter(|feed| feed.kind == need.kind).cloned().collect();
        let lasts = on_hand.and_then(|on_hand| days_of_stock(on_hand, &own).ok()).map(|lasts| text::sentence(&lasts.summary));
        lines.push(KindLine { need, typed, lasts });
    }
    Ok((lines, check.mistakes()))
}

fn by_day(feeds: &[PlannedFeed]) -> Result<Figures, AppError> {
    let mut figures = Figures::new(&["day", "prey", "animals", "to prepare", "eaten, mean", "eaten, 5 to 95 %"]);
    for need in need(feeds).map_err(|error| AppError::Internal(error.into()))? {
        figures.rows.push(vec![
            text::iso_day(&need.day),
            need.kind,
            need.animals.to_string(),
            need.offered.to_string(),
            format!("{:.1}", need.mean),
            format!("{} to {}", need.p05, need.p95),
        ]);
    }
    Ok(figures)
}
