//! The pick list, for the screen or printed: what to fetch, in walking order, and who may pack it.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{Check, Mistakes};
use crate::house::ids::OrderId;
use crate::house::layout::{Layout, Section, page};
use crate::house::text;
use crate::sales::model::PickStop;
use crate::sales::store::{orders, pick};

#[derive(Template)]
#[template(path = "sales/pick.html")]
struct PickPage {
    layout: Layout,
    title: String,
    printed_at: String,
    /// The order; none for all of a day.
    order: Option<OrderId>,
    typed_day: String,
    mistakes: Mistakes,
    emergency: String,
    stops: Vec<PickStop>,
}

pub(in crate::sales) async fn of_order(State(app): State<App>, me: SignedIn, Path(id): Path<OrderId>) -> Answer {
    let order = orders::require_order(&mut *app.read().await?, id).await?;
    shown(&app, &me, Some(id), String::new(), Mistakes::none(), format!("Pick list of order {} for {}", id, order.buyer_name)).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::sales) struct Asked {
    day: String,
}

pub(in crate::sales) async fn of_day(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let today = app.today();
    let mut check = Check::new();
    let earliest = today.checked_sub_days(chrono::Days::new(366)).unwrap_or(today);
    let day = if asked.day.trim().is_empty() { Some(today) } else { check.coming_day("day", &asked.day, earliest) };
    let typed = if asked.day.is_empty() { today.to_string() } else { asked.day };
    let day = day.unwrap_or(today);
    shown(&app, &me, None, typed, check.mistakes(), format!("Pick list of {}", text::long_day(&day))).await
}

async fn shown(app: &App, me: &SignedIn, order: Option<OrderId>, typed_day: String, mistakes: Mistakes, title: String) -> Answer {
    let zone = app.site().zone;
    let day = typed_day.parse().unwrap_or(app.today());
    let stops = pick::pick_list(&mut *app.read().await?, order, day, app.now(), zone).await?;
    page(&PickPage {
        layout: Layout::of(app, me, Section::Sales).await?,
        printed_at: text::instant(&app.now(), &zone),
        emergency: app.site().emergency.lines().collect::<Vec<_>>().join(" · "),
        title,
        order,
        typed_day,
        mistakes,
        stops,
    })
}
