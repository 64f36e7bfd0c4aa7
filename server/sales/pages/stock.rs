//! The stock for sale: what may leave today, and why the rest may not.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::ids::OrderId;
use crate::house::layout::{Choice, Layout, Section, choices, page};
use crate::house::paths;
use crate::reckoning::words::{LifeStage, Sex};
use crate::sales::model::{OrderState, StockFilter, StockGroup, StockItem, StockNumbers, groups};
use crate::sales::store::{orders, stock};
use crate::species;

/// How many lines a page of the list shows.
const PER_PAGE: usize = 100;

/// What the address asks for, as typed.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default)]
pub(in crate::sales) struct Asked {
    species: String,
    stage: String,
    sex: String,
    only: String,
    order: String,
    page: String,
}

impl Asked {
    /// What can't be read narrows nothing.
    fn filter(&self) -> StockFilter {
        StockFilter {
            species: self.species.parse().ok(),
            stage: self.stage.clone(),
            sex: self.sex.parse().ok(),
            only_ready: self.only == "yes",
        }
    }

    fn page(&self) -> usize {
        self.page.parse().unwrap_or(0).min(100_000)
    }

    /// The address of another page of the same list.
    fn link(&self, page: usize) -> String {
        let mut question = url::form_urlencoded::Serializer::new(String::new());
        let page = page.to_string();
        let asked = [
            ("species", &self.species),
            ("stage", &self.stage),
            ("sex", &self.sex),
            ("only", &self.only),
            ("order", &self.order),
            ("page", &page),
        ];
        for (name, value) in asked.into_iter().filter(|(_, value)| !value.is_empty()) {
            question.append_pair(name, value);
        }
        format!("{}?{}", paths::STOCK, question.finish())
    }
}

#[derive(Template)]
#[template(path = "sales/stock.html")]
struct StockPage {
    layout: Layout,
    asked: Asked,
    numbers: StockNumbers,
    shown_numbers: StockNumbers,
    groups: Vec<StockGroup>,
    items: Vec<StockItem>,
    species: Vec<Choice>,
    stages: Vec<Choice>,
    sexes: Vec<Choice>,
    /// The open order that links add to.
    order: Option<OrderId>,
    earlier: Option<String>,
    later: Option<String>,
}

pub(in crate::sales) async fn list(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let mut db = app.read().await?;
    let all = stock::stock(&mut db, app.now(), app.site().zone).await?;
    let numbers = StockNumbers::of(&all);
    let stages = stage_choices(&all);
    let filter = asked.filter();
    let narrowed: Vec<StockItem> = all.into_iter().filter(|item| filter.takes(item)).collect();
    let at = asked.page();
    let later = (narrowed.len() > (at + 1) * PER_PAGE).then(|| asked.link(at + 1));
    let species = species::store::all(&mut db).await?.into_iter().map(|line| Choice::new(line.id, line.accepted_name));
    let order = open_order(&mut db, &asked.order).await?;
    page(&StockPage {
        layout: Layout::of(&app, &me, Section::Sales).await?,
        shown_numbers: StockNumbers::of(&narrowed),
        groups: groups(&narrowed),
        items: narrowed.into_iter().skip(at * PER_PAGE).take(PER_PAGE).collect(),
        species: with_any("any species", species.collect()),
        sexes: with_any("any sex", choices(Sex::ALL, Sex::code)),
        earlier: (at > 0).then(|| asked.link(at - 1)),
        later,
        numbers,
        stages,
        order,
        asked,
    })
}

async fn open_order(db: &mut sqlx::SqliteConnection, asked: &str) -> Result<Option<OrderId>, AppError> {
    let Ok(id) = asked.parse::<OrderId>() else { return Ok(None) };
    match orders::require_order(db, id).await {
        Ok(order) => Ok((order.state == OrderState::Open).then_some(id)),
        Err(AppError::NotFound) => Ok(None),
        Err(error) => Err(error),
    }
}

fn with_any(label: &str, rest: Vec<Choice>) -> Vec<Choice> {
    std::iter::once(Choice::new("", label)).chain(rest).collect()
}

/// Life stages, and the instars at which cohorts have some.
fn stage_choices(items: &[StockItem]) -> Vec<Choice> {
    let mut instars: Vec<_> = items.iter().filter(|item| item.cohort.is_some()).filter_map(|item| item.stage).collect();
    instars.sort_unstable();
    instars.dedup();
    let instars = instars.into_iter().map(|stage| Choice::new(stage.code(), stage));
    with_any("any stage", choices(LifeStage::ALL, LifeStage::code).into_iter().chain(instars).collect())
}
