//! Orders in a list, and beginning or changing one.

use askama::Template;
use axum::extract::State;
use chrono::{Days, NaiveDate};
use serde::Deserialize;

use super::new::{HandoverForm, Who, buyer_choices};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::OrderId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again, page_overtaken};
use crate::house::paths;
use crate::sales::model::{Item, NewOrder, Order, OrderState, Sale, Wanted, Way, item_of};
use crate::sales::store::{self, orders, sale_lines};

/// How many ended orders the list shows.
const SHOWN: i64 = 100;
/// How many days an order keeps its stock while no owner has said.
const USUAL_DAYS: u32 = 7;

#[derive(Template)]
#[template(path = "sales/orders.html")]
struct OrdersPage {
    layout: Layout,
    today: NaiveDate,
    open: Vec<Order>,
    done: Vec<Order>,
    cancelled: Vec<Order>,
}

pub(in crate::sales) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let open = orders::orders(&mut db, OrderState::Open, 1000).await?;
    let done = orders::orders(&mut db, OrderState::HandedOver, SHOWN).await?;
    let cancelled = orders::orders(&mut db, OrderState::Cancelled, SHOWN).await?;
    page(&OrdersPage { layout: Layout::of(&app, &me, Section::Sales).await?, today: app.today(), open, done, cancelled })
}

#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct OrderForm {
    buyer: String,
    name: String,
    contact: String,
    address: String,
    way: String,
    wanted_on: String,
    until: String,
    note: String,
    item: String,
    version: String,
}

impl OrderForm {
    fn check(&self, today: NaiveDate) -> Result<NewOrder, Mistakes> {
        let mut check = Check::new();
        let way = check.choice::<Way>("way", &self.way);
        let wanted_on =
            if self.wanted_on.trim().is_empty() { Some(None) } else { check.coming_day("wanted_on", &self.wanted_on, today).map(Some) };
        let until = check.coming_day("until", &self.until, today);
        let note = check.paragraphs("note", &self.note, 600);
        match (way, wanted_on, until, note) {
            (Some(way), Some(wanted_on), Some(reserve_until), Some(note)) => Ok(NewOrder { way, wanted_on, reserve_until, note }),
            _ => Err(check.mistakes()),
        }
    }

    /// Who orders, and what; every mistake of both.
    fn check_new(&self, today: NaiveDate) -> Result<(Who, NewOrder), Mistakes> {
        let who = HandoverForm::of_buyer(&self.buyer, &self.name, &self.contact, &self.address).check();
        match (who, self.check(today)) {
            (Ok((who, _)), Ok(order)) => Ok((who, order)),
            (who, order) => {
                let mut mistakes = Mistakes::none();
                let both = [who.err(), order.err()];
                for mistake in both.iter().flatten().flat_map(Mistakes::all) {
                    mistakes.add(mistake.field, mistake.message.clone());
                }
                Err(mistakes)
            }
        }
    }
}

#[derive(Template)]
#[template(path = "sales/order_form.html")]
struct FormPage {
    layout: Layout,
    /// The order that is changed; none for a new one.
    order: Option<Order>,
    buyers: Vec<Choice>,
    ways: Vec<Choice>,
    item: Option<String>,
    input: OrderForm,
    mistakes: Mistakes,
}

impl FormPage {
    async fn read(app: &App, me: &SignedIn, order: Option<Order>, input: OrderForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let buyers = buyer_choices(app).await?;
        let item = match item_of(&input.item) {
            Some(item) => present(store::stock::one(&mut *app.read().await?, item, app.now(), app.site().zone).await)?,
            None => None,
        };
        let item = item.map(|item| format!("{}, {}", item.species, item.label));
        let layout = Layout::of(app, me, Section::Sales).await?;
        Ok(Self { layout, order, buyers, ways: choices(Way::ALL, Way::code), item, input, mistakes })
    }
}

fn present<T>(read: Result<T, AppError>) -> Result<Option<T>, AppError> {
    match read {
        Ok(value) => Ok(Some(value)),
        Err(AppError::NotFound) => Ok(None),
        Err(error) => Err(error),
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::sales) struct Asked {
    buyer: String,
    item: String,
}

pub(in crate::sales) async fn new_order(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let days = store::terms::terms(&mut *app.read().await?).await?.map_or(USUAL_DAYS, |terms| terms.reserve_days);
    let until = app.today().checked_add_days(Days::new(days.into())).unwrap_or(app.today());
    let way = Way::Collection.code().to_owned();
    let input = OrderForm { buyer: asked.buyer, item: asked.item, way, until: until.to_string(), ..OrderForm::default() };
    page(&FormPage::read(&app, &me, None, input, Mistakes::none()).await?)
}

pub(in crate::sales) async fn create_order(State(app): State<App>, me: SignedIn, form: Form<OrderForm>) -> Answer {
    match save_new(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&FormPage::read(&app, &me, None, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save_new(app: &App, me: &SignedIn, form: &Form<OrderForm>) -> Answer {
    let (who, new) = form.input.check_new(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let buyer = match who {
        Who::Known(id) => id,
        Who::New(new) => store::insert_buyer(&mut write, &new).await?,
    };
    let id = match orders::insert_order(&mut write, buyer, &new).await {
        Err(AppError::NotFound) => return Err(AppError::refused("buyer", "This buyer is not in the book. Choose one of the list.")),
        inserted => inserted?,
    };
    let wanted = item_of(&form.input.item).map(|item| match item {
        Item::Animal(animal) => Wanted::Animal(animal),
        Item::Lot(lot) => Wanted::Packs { cohort: lot.cohort, stage: lot.stage, packs: 1, pack_of: 1 },
    });
    if let Some(wanted) = wanted {
        first_line(&mut write, id, wanted).await?;
    }
    let change =
        Change::new("order.made", format!("order {id}"), format!("buyer {buyer}, {}, kept until {}", new.way.code(), new.reserve_until));
    me.done(write, change, &paths::order(&id), "The order is open. What you add to it is kept for this buyer.").await
}

/// What was chosen before the order began: what is wrong with it is said of the form as a whole.
async fn first_line(write: &mut crate::house::write::Write, id: OrderId, wanted: Wanted) -> Result<(), AppError> {
    match sale_lines::add(write, Sale::Order(id), wanted).await {
        Err(AppError::Refused(why)) => {
            let said = why.all().map(|mistake| mistake.message.clone()).collect::<Vec<_>>().join(" ");
            Err(AppError::refused("", said))
        }
        answer => answer.map(drop),
    }
}

pub(in crate::sales) async fn edit_order(State(app): State<App>, me: SignedIn, Path(id): Path<OrderId>) -> Answer {
    let order = orders::require_open(&mut *app.read().await?, id).await?;
    let day = |day: Option<NaiveDate>| day.map_or_else(String::new, |day| day.to_string());
    let input = OrderForm {
        way: order.way.code().to_owned(),
        wanted_on: day(order.wanted_on),
        until: day(order.reserve_until),
        note: order.note.clone(),
        version: order.version.to_string(),
        ..OrderForm::default()
    };
    page(&FormPage::read(&app, &me, Some(order), input, Mistakes::none()).await?)
}

pub(in crate::sales) async fn change_order(State(app): State<App>, me: SignedIn, Path(id): Path<OrderId>, form: Form<OrderForm>) -> Answer {
    let answer = save_change(&app, &me, id, &form).await;
    let (overtaken, mistakes) = match answer {
        Err(AppError::Refused(mistakes)) => (false, mistakes),
        Err(AppError::Conflict(why)) => (true, Mistakes::one("", why)),
        answer => return answer,
    };
    let order = orders::require_order(&mut *app.read().await?, id).await?;
    let shown = FormPage::read(&app, &me, Some(order), form.input, mistakes).await?;
    if overtaken { page_overtaken(&shown) } else { page_again(&shown) }
}

async fn save_change(app: &App, me: &SignedIn, id: OrderId, form: &Form<OrderForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut check = Check::new();
    let Some(version) = check.whole("version", &form.input.version, 1..=i64::MAX) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    orders::update_order(&mut write, id, version, &new).await?;
    let change = Change::new("order.changed", format!("order {id}"), format!("{}, kept until {}", new.way.code(), new.reserve_until));
    me.done(write, change, &paths::order(&id), "Changed.").await
}
