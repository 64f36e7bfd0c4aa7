//! Prey: what to prepare, what the coming days will use, how long the stock lasts, and what to order.

pub(in crate::rounds) mod book;
pub(in crate::rounds) mod enter;
pub(in crate::rounds) mod kinds;
pub(in crate::rounds) mod rules;
pub(in crate::rounds) mod usual;

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::house::app::App;
use crate::house::chart::{self, Figures};
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Mistakes};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::text;
use crate::reckoning::calendar::days_after;
use crate::reckoning::planner::MOST_DAYS;
use crate::reckoning::prey::{Order, PeriodNeed, PlannedFeed, Policy, StockLasts, days_of_stock, need, order, period_need};
use crate::rounds::model::prey::{PreyToday, Stock};
use crate::rounds::store::prey as store;

/// How many days the day-by-day table shows.
const DAYS: u32 = 14;
/// The shorter and the longer span of the forecast.
const SPANS: [u32; 2] = [7, 14];

/// For how many days to order, if not for as many as the house does.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::rounds) struct Asked {
    cover_days: String,
}

/// One kind and size: what is on hand, what will be used, and what to order.
struct KindLine {
    /// As the forecast names it.
    kind: String,
    size: String,
    /// The book's; none for prey that is not on the house's list.
    stock: Option<Stock>,
    /// The next 7 and 14 days; none where nothing is fed on it.
    needs: Vec<Option<PeriodNeed>>,
    lasts: Option<StockLasts>,
    order: Option<Order>,
}

impl KindLine {
    fn name(&self) -> String {
        if self.size.is_empty() { self.kind.clone() } else { format!("{}, {}", self.kind, self.size) }
    }

    /// Whether anything is fed on it in the days that are looked at.
    fn is_fed(&self) -> bool {
        self.lasts.as_ref().is_some_and(|lasts| lasts.planned_to.is_some())
    }

    fn lasts(&self) -> String {
        self.lasts.as_ref().map_or_else(|| "–".to_owned(), |lasts| text::sentence(&lasts.summary))
    }

    /// Whether it has to be ordered.
    fn is_short(&self) -> bool {
        self.order.as_ref().is_some_and(|order| order.packs > 0)
    }
}

/// All that is reckoned of prey at a moment.
struct Outlook {
    lines: Vec<KindLine>,
    feeds: Vec<PlannedFeed>,
    policy: Policy,
    today: NaiveDate,
}

impl Outlook {
    async fn of(db: &mut SqliteConnection, now: DateTime<Utc>, zone: Tz, cover_days: Option<u32>) -> Result<Self, AppError> {
        let mut policy = store::policy(&mut *db).await?;
        policy.cover_days = cover_days.unwrap_or(policy.cover_days);
        let days = policy.days().clamp(DAYS, MOST_DAYS);
        let feeds = store::coming_feeds(&mut *db, now, zone, days).await?;
        let today = crate::house::clock::local_date(zone, now);
        let lines = lines(store::stock(db).await?, &feeds, policy, today)?;
        Ok(Self { lines, feeds, policy, today })
    }

    /// The feeds of so many days from today on.
    fn within(&self, days: u32) -> Vec<PlannedFeed> {
        within(&self.feeds, self.today, days)
    }

    /// What to order, as it is sent to whoever delivers.
    fn order_list(&self) -> Figures {
        let mut figures = Figures::new(&["prey", "size", "length, mm", "on hand", "needed at most", "packs of", "packs", "order by"]);
        for line in self.lines.iter().filter(|line| line.is_short()) {
            let (Some(stock), Some(order)) = (&line.stock, &line.order) else { continue };
            figures.rows.push(vec![
                line.kind.clone(),
                line.size.clone(),
                stock.kind.length_mm.to_string(),
                stock.on_hand().to_string(),
                order.upper.to_string(),
                stock.kind.per_pack.to_string(),
                order.packs.to_string(),
                order.order_by.as_ref().map(text::iso_day).unwrap_or_default(),
            ]);
        }
        figures
    }
}

fn within(feeds: &[PlannedFeed], today: NaiveDate, days: u32) -> Vec<PlannedFeed> {
    let end = days_after(today, days);
    feeds.iter().filter(|feed| feed.day < end).cloned().collect()
}

fn internal(error: impl Into<anyhow::Error>) -> AppError {
    AppError::Internal(error.into())
}

/// Kinds of the list that are in use or were, then prey that is fed and not on the list.
fn lines(stock: Vec<Stock>, feeds: &[PlannedFeed], policy: Policy, today: NaiveDate) -> Result<Vec<KindLine>, AppError> {
    let mut lines: Vec<KindLine> = Vec::new();
    for of in stock.into_iter().filter(|of| of.kind.active || of.quantity != 0) {
        let (kind, size) = (of.kind.name.clone(), of.kind.size.clone());
        lines.push(line(kind, size, Some(of), feeds, policy, today)?);
    }
    for need in period_need(feeds).map_err(internal)? {
        if !lines.iter().any(|line| line.kind == need.kind && line.size == need.size) {
            lines.push(line(need.kind, need.size, None, feeds, policy, today)?);
        }
    }
    Ok(lines)
}

fn line(
    kind: String,
    size: String,
    stock: Option<Stock>,
    feeds: &[PlannedFeed],
    policy: Policy,
    today: NaiveDate,
) -> Result<KindLine, AppError> {
    let own: Vec<PlannedFeed> = feeds.iter().filter(|feed| feed.kind == kind && feed.size == size).cloned().collect();
    let mut needs = Vec::new();
    for days in SPANS {
        needs.push(period_need(&within(&own, today, days)).map_err(internal)?.into_iter().next());
    }
    let (mut lasts, mut ordered) = (None, None);
    if let Some(stock) = &stock {
        lasts = Some(days_of_stock(stock.on_hand(), &own).map_err(internal)?);
        ordered = Some(order(today, stock.on_hand(), stock.kind.per_pack, &own, policy).map_err(internal)?);
    }
    Ok(KindLine { kind, size, stock, needs, lasts, order: ordered })
}

#[derive(Template)]
#[template(path = "rounds/prey.html")]
struct PreyPage {
    layout: Layout,
    outlook: Outlook,
    order_list: Figures,
    days: Figures,
    prey_today: Vec<PreyToday>,
    cover_days: String,
    mistakes: Mistakes,
}

pub(in crate::rounds) async fn prey(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let mut check = Check::new();
    let cover_days = check.optional_whole("cover_days", &asked.cover_days, 1..=28);
    let mistakes = check.mistakes();
    let mut db = app.read().await?;
    let outlook = Outlook::of(&mut db, app.now(), app.site().zone, cover_days).await?;
    let prey_today = store::prey_today(&mut db, app.now(), app.site().zone).await?;
    let cover_days = if mistakes.is_empty() { outlook.policy.cover_days.to_string() } else { asked.cover_days };
    let shown = PreyPage {
        layout: Layout::of(&app, &me, Section::Today).await?,
        order_list: outlook.order_list(),
        days: by_day(&outlook.within(DAYS))?,
        prey_today,
        outlook,
        cover_days,
        mistakes,
    };
    if shown.mistakes.is_empty() { page(&shown) } else { page_again(&shown) }
}

pub(in crate::rounds) async fn prey_csv(State(app): State<App>) -> Answer {
    let feeds = store::coming_feeds(&mut *app.read().await?, app.now(), app.site().zone, DAYS).await?;
    chart::download(&by_day(&feeds)?, "prey")
}

pub(in crate::rounds) async fn order_csv(State(app): State<App>, Query(asked): Query<Asked>) -> Answer {
    let cover_days = Check::new().optional_whole("cover_days", &asked.cover_days, 1..=28);
    let outlook = Outlook::of(&mut *app.read().await?, app.now(), app.site().zone, cover_days).await?;
    chart::download(&outlook.order_list(), "prey-order")
}

fn by_day(feeds: &[PlannedFeed]) -> Result<Figures, AppError> {
    let mut figures = Figures::new(&["day", "prey", "size", "animals", "to prepare", "used, mean", "used, 80 % range"]);
    for need in need(feeds).map_err(internal)? {
        figures.rows.push(vec![
            text::iso_day(&need.day),
            need.kind,
            need.size,
            need.animals.to_string(),
            need.offered.to_string(),
            format!("{:.1}", need.mean),
            format!("{} to {}", need.p10, need.p90),
        ]);
    }
    Ok(figures)
}
