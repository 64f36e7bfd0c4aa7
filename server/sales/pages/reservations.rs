//! What is reserved, for whom and until when; reserving and releasing.

use askama::Template;
use axum::extract::State;
use chrono::{Days, NaiveDate};
use serde::Deserialize;

use super::new::buyer_choices;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{BuyerId, OrderId, ReservationId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::sales::model::{Buyer, Item, Keeper, Lot, NewReservation, OrderState, Reservation, Sale, StockItem, Wanted, item_of};
use crate::sales::store::{self, orders, reserved, sale_lines, who_has};

/// How many days before its end a reservation is marked.
const SOON: i64 = 3;

/// A reservation with the name of whoever it is for.
struct Shown {
    kept: Reservation,
    whom: String,
    href: String,
    soon: bool,
}

#[derive(Template)]
#[template(path = "sales/reservations.html")]
struct ReservationsPage {
    layout: Layout,
    today: NaiveDate,
    shown: Vec<Shown>,
    soon: usize,
}

pub(in crate::sales) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let buyers = store::buyers(&mut db).await?;
    let mut shown = Vec::new();
    for kept in reserved::standing(&mut db, app.today()).await? {
        let (whom, href) = whom(&mut db, &buyers, &kept).await?;
        shown.push(Shown { soon: kept.ends_within(SOON, &app.today()), kept, whom, href });
    }
    let soon = shown.iter().filter(|shown| shown.soon).count();
    page(&ReservationsPage { layout: Layout::of(&app, &me, Section::Sales).await?, today: app.today(), shown, soon })
}

async fn whom(db: &mut sqlx::SqliteConnection, buyers: &[Buyer], kept: &Reservation) -> Result<(String, String), AppError> {
    if let Some(order) = kept.order_id {
        let name = orders::require_order(db, order).await?.buyer_name;
        return Ok((format!("order {order}, {name}"), paths::order(&order)));
    }
    if let Some(outing) = kept.outing_id {
        return Ok((format!("outing {outing}"), paths::outing(&outing)));
    }
    let buyer = buyers.iter().find(|buyer| Some(buyer.id) == kept.buyer_id);
    Ok(buyer.map_or_else(Default::default, |buyer| (buyer.name.clone(), paths::buyer(&buyer.id))))
}

pub(in crate::sales) async fn release(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<ReservationId>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let today = write.today;
    let kept = reserved::standing(write.db(), today).await?;
    if let Some(order) = kept.iter().find(|kept| kept.id == id).and_then(|kept| kept.order_id) {
        return Err(AppError::conflict(format!("This is kept for order {order}. Take it off that order, and it is free.")));
    }
    reserved::release(&mut write, id).await?;
    let change = Change::new("reservation.released", format!("reservation {id}"), "released").from("standing");
    me.done(write, change, paths::RESERVATIONS, "Released. It is free again.").await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct ReserveForm {
    item: String,
    whom: String,
    quantity: String,
    until: String,
    note: String,
}

/// For whom: a buyer, or an order that then has it as a line.
enum Whom {
    Buyer(BuyerId),
    Order(OrderId),
}

#[derive(Template)]
#[template(path = "sales/reserve.html")]
struct ReservePage {
    layout: Layout,
    item: StockItem,
    whom: Vec<Choice>,
    input: ReserveForm,
    mistakes: Mistakes,
}

impl ReservePage {
    async fn read(app: &App, me: &SignedIn, input: ReserveForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let item = item_of(&input.item).ok_or(AppError::NotFound)?;
        let mut db = app.read().await?;
        let item = store::stock::one(&mut db, item, app.now(), app.site().zone).await?;
        let open = orders::orders(&mut db, OrderState::Open, 1000).await?;
        drop(db);
        let open =
            open.into_iter().map(|order| Choice::new(format!("o{}", order.id), format!("order {} of {}", order.id, order.buyer_name)));
        let buyers = buyer_choices(app).await?.into_iter().skip(1).map(|buyer| Choice::new(format!("b{}", buyer.code), buyer.label));
        let whom = std::iter::once(Choice::new("", "choose")).chain(open).chain(buyers).collect();
        Ok(Self { layout: Layout::of(app, me, Section::Sales).await?, item, whom, input, mistakes })
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::sales) struct Asked {
    item: String,
}

pub(in crate::sales) async fn new(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let days = store::terms::terms(&mut *app.read().await?).await?.map_or(7, |terms| terms.reserve_days);
    let until = app.today().checked_add_days(Days::new(days.into())).unwrap_or(app.today());
    let input = ReserveForm { item: asked.item, until: until.to_string(), quantity: "1".to_owned(), ..ReserveForm::default() };
    page(&ReservePage::read(&app, &me, input, Mistakes::none()).await?)
}

pub(in crate::sales) async fn reserve(State(app): State<App>, me: SignedIn, form: Form<ReserveForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ReservePage::read(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

impl ReserveForm {
    fn check(&self, today: NaiveDate) -> Result<(Item, Whom, NaiveDate, String), AppError> {
        let item = item_of(&self.item).ok_or(AppError::NotFound)?;
        let mut check = Check::new();
        let whom = match self.whom.split_at_checked(1) {
            Some(("o", id)) => id.parse().ok().map(Whom::Order),
            Some(("b", id)) => id.parse().ok().map(Whom::Buyer),
            _ => None,
        };
        if whom.is_none() {
            check.add("whom", "Choose one of the list.");
        }
        let item = match item {
            Item::Lot(lot) => check.whole("quantity", &self.quantity, 1..=3000).map(|quantity| Item::Lot(Lot { quantity, ..lot })),
            animal @ Item::Animal(_) => Some(animal),
        };
        let until = check.coming_day("until", &self.until, today);
        let note = check.optional_text("note", &self.note, 200);
        match (item, whom, until, note) {
            (Some(item), Some(whom), Some(until), Some(note)) => Ok((item, whom, until, note)),
            _ => Err(check.mistakes().into()),
        }
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<ReserveForm>) -> Answer {
    let (item, whom, until, note) = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    match whom {
        Whom::Order(order) => {
            let wanted = match item {
                Item::Animal(animal) => Wanted::Animal(animal),
                Item::Lot(lot) => Wanted::Packs { cohort: lot.cohort, stage: lot.stage, packs: lot.quantity, pack_of: 1 },
            };
            sale_lines::add(&mut write, Sale::Order(order), wanted).await?;
            let change = Change::new("order.line-added", format!("order {order}"), form.input.item.clone());
            me.done(write, change, &paths::order(&order), "Added to the order, and kept as long as the order keeps its stock.").await
        }
        Whom::Buyer(buyer) => {
            store::require_buyer(write.db(), buyer).await.map_err(|error| match error {
                AppError::NotFound => AppError::refused("whom", "This buyer is not in the book. Choose one of the list."),
                other => other,
            })?;
            let new = NewReservation { item, keeper: Keeper { buyer: Some(buyer), ..Keeper::default() }, until, note };
            let id = match reserved::reserve(&mut write, &new).await {
                Err(AppError::Refused(why)) => return Err(told(&mut write, item, why).await?),
                reserved => reserved?,
            };
            let after = format!("{} for buyer {buyer} until {until}", form.input.item);
            me.done(write, Change::new("reservation.made", format!("reservation {id}"), after), paths::RESERVATIONS, "Reserved.").await
        }
    }
}

/// What is wrong, at the fields of this page, and who has it.
async fn told(write: &mut crate::house::write::Write, item: Item, why: Mistakes) -> Result<AppError, AppError> {
    let today = write.today;
    let who = who_has::told(write.db(), item, today, Keeper::default()).await?;
    let mut mistakes = Mistakes::none();
    for mistake in why.all() {
        let field = if mistake.field == "item" { "" } else { mistake.field };
        let who = if field == "until" { "" } else { who.as_str() };
        mistakes.add(field, format!("{}{who}", mistake.message));
    }
    Ok(mistakes.into())
}
