//! One price list: read, or filled in while it is a draft.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;

use super::line_table::refused;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::PriceListId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again, page_overtaken};
use crate::house::money::Currency;
use crate::house::{paths, text};
use crate::reckoning::stage::Stage;
use crate::sales::model::{NewPrice, Price, PriceClass, PriceList, PriceSex};
use crate::sales::store::prices;
use crate::species;

#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct PriceForm {
    species: String,
    stage: String,
    from_mm: String,
    to_mm: String,
    sex: String,
    pack_of: String,
    amount: String,
}

impl PriceForm {
    fn check(&self, currency: &Currency) -> Result<NewPrice, Mistakes> {
        let mut check = Check::new();
        let species = check.choice("species", &self.species);
        let class = self.class(&mut check);
        let sex = check.choice("sex", &self.sex);
        let pack_of = if self.pack_of.trim().is_empty() { Some(1) } else { check.whole("pack_of", &self.pack_of, 1..=1000) };
        let amount = match currency.read(&self.amount) {
            Ok(minor) => Some(minor),
            Err(why) => {
                check.add("amount", why);
                None
            }
        };
        match (species, class, sex, pack_of, amount) {
            (Some(species), Some(class), Some(sex), Some(pack_of), Some(amount_minor)) if check.ok() => {
                Ok(NewPrice { species, class, sex, pack_of, amount_minor })
            }
            _ => Err(check.mistakes()),
        }
    }

    /// A stage, or a range of leg spans: one of the two.
    fn class(&self, check: &mut Check) -> Option<PriceClass> {
        let by_size = !self.from_mm.trim().is_empty() || !self.to_mm.trim().is_empty();
        match (self.stage.trim().is_empty(), by_size) {
            (false, true) => {
                check.add("stage", "Choose a stage or enter leg spans: not both.");
                None
            }
            (true, false) => {
                check.add("stage", "Choose a stage, or enter from and to which leg span.");
                None
            }
            (false, false) => check.choice("stage", &self.stage).map(PriceClass::Stage),
            (true, true) => {
                let from = check.whole("from_mm", &self.from_mm, 0..=400_u32);
                let to = check.whole("to_mm", &self.to_mm, 0..=400_u32);
                let (from, to) = (from?, to?);
                if to < from {
                    check.add("to_mm", format!("This is less than {from}."));
                    return None;
                }
                Some(PriceClass::Size(from, to))
            }
        }
    }
}

#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct AmountsForm {
    price: Vec<String>,
    amount: Vec<String>,
}

#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct PublishForm {
    valid_from: String,
    note: String,
}

/// A price with what was typed into its field.
struct Row {
    price: Price,
    typed: String,
}

#[derive(Debug, Default)]
struct Typed {
    price: PriceForm,
    amounts: AmountsForm,
    publish: PublishForm,
}

#[derive(Template)]
#[template(path = "sales/price_list.html")]
struct ListPage {
    layout: Layout,
    list: PriceList,
    currency: Currency,
    rows: Vec<Row>,
    species: Vec<Choice>,
    stages: Vec<Choice>,
    sexes: Vec<Choice>,
    typed: Typed,
    mistakes: Mistakes,
}

impl ListPage {
    async fn read(app: &App, me: &SignedIn, id: PriceListId, mut typed: Typed, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let list = prices::require_price_list(&mut db, id).await?;
        let currency = list.currency();
        let rows = prices::prices(&mut db, id).await?.into_iter().map(|price| {
            let place = typed.amounts.price.iter().position(|known| *known == price.id.to_string());
            let over = place.and_then(|place| typed.amounts.amount.get(place).cloned());
            Row { typed: over.unwrap_or_else(|| currency.figure(&price.amount_minor)), price }
        });
        let rows = rows.collect();
        let species = species::store::all(&mut db).await?.into_iter().map(|line| Choice::new(line.id, line.accepted_name));
        let stages = Stage::all().filter(|stage| stage.feeds()).map(|stage| Choice::new(stage.code(), stage));
        if typed.publish.valid_from.is_empty() {
            typed.publish.valid_from = app.today().to_string();
        }
        Ok(Self {
            layout: Layout::of(app, me, Section::Sales).await?,
            species: std::iter::once(Choice::new("", "choose")).chain(species).collect(),
            stages: std::iter::once(Choice::new("", "by leg span")).chain(stages).collect(),
            sexes: choices(PriceSex::ALL, PriceSex::code),
            list,
            currency,
            rows,
            typed,
            mistakes,
        })
    }
}

pub(in crate::sales) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<PriceListId>) -> Answer {
    page(&ListPage::read(&app, &me, id, Typed::default(), Mistakes::none()).await?)
}

async fn again(app: &App, me: &SignedIn, id: PriceListId, answer: Answer, typed: Typed) -> Result<Response, AppError> {
    let error = match answer {
        Ok(response) => return Ok(response),
        Err(error) => error,
    };
    let (status, mistakes) = refused(error)?;
    let shown = ListPage::read(app, me, id, typed, mistakes).await?;
    if status == 409 { page_overtaken(&shown) } else { page_again(&shown) }
}

pub(in crate::sales) async fn add(State(app): State<App>, me: SignedIn, Path(id): Path<PriceListId>, form: Form<PriceForm>) -> Answer {
    let answer = save_price(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { price: form.input, ..Typed::default() }).await
}

async fn save_price(app: &App, me: &SignedIn, id: PriceListId, form: &Form<PriceForm>) -> Answer {
    let currency = prices::require_price_list(&mut *app.read().await?, id).await?.currency();
    let new = form.input.check(&currency)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    prices::add_price(&mut write, id, &new).await?;
    let change = Change::new("prices.added", format!("price list {id}"), currency.amount(&new.amount_minor));
    me.done(write, change, &paths::price_list(&id), "The price is on the list.").await
}

pub(in crate::sales) async fn change(State(app): State<App>, me: SignedIn, Path(id): Path<PriceListId>, form: Form<AmountsForm>) -> Answer {
    let answer = save_amounts(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { amounts: form.input, ..Typed::default() }).await
}

async fn save_amounts(app: &App, me: &SignedIn, id: PriceListId, form: &Form<AmountsForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let currency = prices::require_price_list(write.db(), id).await?.currency();
    let known = prices::prices(write.db(), id).await?;
    let (mut check, mut changes) = (Check::new(), Vec::new());
    for (price, typed) in form.input.price.iter().zip(&form.input.amount) {
        let Some(price) = known.iter().find(|known| known.id.to_string() == *price) else { continue };
        match currency.read(typed) {
            _ if typed.trim().is_empty() => changes.push((price.id, None)),
            Ok(minor) => changes.push((price.id, Some(minor))),
            Err(why) => check.add("amounts", format!("{}, {}: {why}", price.species, price.words())),
        }
    }
    if !check.ok() {
        return Err(check.mistakes().into());
    }
    prices::change_prices(&mut write, id, &changes).await?;
    let count = i64::try_from(changes.len()).unwrap_or(i64::MAX);
    let change = Change::new("prices.changed", format!("price list {id}"), text::count(&count, "price", "prices"));
    me.done(write, change, &paths::price_list(&id), "The prices are saved.").await
}

pub(in crate::sales) async fn publish(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<PriceListId>,
    form: Form<PublishForm>,
) -> Answer {
    let answer = save_published(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Typed { publish: form.input, ..Typed::default() }).await
}

async fn save_published(app: &App, me: &SignedIn, id: PriceListId, form: &Form<PublishForm>) -> Answer {
    let mut check = Check::new();
    let from = check.coming_day("valid_from", &form.input.valid_from, app.today());
    let note = check.optional_text("note", &form.input.note, 200);
    let (Some(from), Some(note)) = (from, note) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    prices::publish(&mut write, id, from, &note).await?;
    let change = Change::new("prices.published", format!("price list {id}"), format!("from {from}")).from("draft");
    me.done(write, change, paths::PRICES, format!("Published. It holds from {}.", text::day(&from))).await
}

pub(in crate::sales) async fn discard(State(app): State<App>, me: SignedIn, Path(id): Path<PriceListId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    prices::discard(&mut write, id).await?;
    let change = Change::new("prices.discarded", format!("price list {id}"), "discarded").from("draft");
    me.done(write, change, paths::PRICES, "The draft is gone. The list that holds is as it was.").await
}
