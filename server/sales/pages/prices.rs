//! Price lists: which holds, which come, which were.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::Answer;
use crate::house::extract::SignedIn;
use crate::house::forms::{ButtonForm, Form};
use crate::house::ids::PriceListId;
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::sales::model::{Price, PriceList, Terms};
use crate::sales::store::{prices, terms};

#[derive(Template)]
#[template(path = "sales/prices.html")]
struct PricesPage {
    layout: Layout,
    today: NaiveDate,
    terms: Option<Terms>,
    holds: Option<PriceListId>,
    lists: Vec<PriceList>,
    prices: Vec<Price>,
}

impl PricesPage {
    /// Where a list stands in time.
    fn standing(&self, list: &PriceList) -> &'static str {
        match list.valid_from {
            None => "draft",
            Some(_) if self.holds == Some(list.id) => "holds now",
            Some(from) if from > self.today => "comes",
            Some(_) => "was replaced",
        }
    }
}

pub(in crate::sales) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let holds = prices::list_on(&mut db, app.today()).await?;
    page(&PricesPage {
        layout: Layout::of(&app, &me, Section::Sales).await?,
        today: app.today(),
        terms: terms::terms(&mut db).await?,
        lists: prices::price_lists(&mut db).await?,
        prices: prices::prices_on(&mut db, app.today()).await?,
        holds,
    })
}

pub(in crate::sales) async fn begin(State(app): State<App>, me: SignedIn, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = prices::begin_list(&mut write).await?;
    let change = Change::new("prices.begun", format!("price list {id}"), "draft");
    me.done(write, change, &paths::price_list(&id), "A draft with the prices that hold now. Nothing changes until it is published.").await
}
