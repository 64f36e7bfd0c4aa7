//! An order's page: what is on it, what it costs, and what may leave.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use chrono::NaiveDate;
use serde::Deserialize;

use super::adding::{AddForm, add_all, lot_choices, pack_hint};
use super::line_table::{LineTable, LinesForm, refused};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Form, Mistakes};
use crate::house::ids::{OrderId, SaleLineId};
use crate::house::layout::{Choice, Layout, Section, page, page_again, page_overtaken};
use crate::house::{paths, text};
use crate::sales::model::{Buyer, CheckedLine, Handover, Keeper, Order, OrderState, Sale};
use crate::sales::store::{self, orders, sale_lines};

#[derive(Template)]
#[template(path = "sales/order.html")]
struct OrderPage {
    layout: Layout,
    order: Order,
    buyer: Buyer,
    today: NaiveDate,
    kept: String,
    table: LineTable,
    checked: Vec<CheckedLine>,
    handovers: Vec<Handover>,
    lots: Vec<Choice>,
    pack_hint: String,
    typed: AddForm,
    mistakes: Mistakes,
    may_edit_packs: bool,
    lines_action: String,
    add_action: String,
}

impl OrderPage {
    async fn read(app: &App, me: &SignedIn, id: OrderId, typed: (AddForm, LinesForm), mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let order = orders::require_order(&mut db, id).await?;
        let open = order.state == OrderState::Open;
        let lines = sale_lines::sale_lines(&mut db, Sale::Order(id)).await?;
        let terms = store::terms::terms(&mut db).await?;
        let keeper = Keeper { buyer: Some(order.buyer_id), order: Some(id), outing: None };
        let checked = if open { store::checked_order(&mut db, id, keeper, app.now(), app.site().zone).await? } else { Vec::new() };
        let lots = if open { lot_choices(&store::offers(&mut db, app.today(), keeper).await?) } else { Vec::new() };
        Ok(Self {
            buyer: store::require_buyer(&mut db, order.buyer_id).await?,
            handovers: orders::handovers_of_order(&mut db, id).await?,
            pack_hint: pack_hint(&mut db, app.today()).await?,
            layout: Layout::of(app, me, Section::Sales).await?,
            today: app.today(),
            kept: orders::kept_words(&order, app.today()),
            table: LineTable::of(lines, terms, &typed.1),
            may_edit_packs: open,
            lines_action: format!("{}/lines", paths::order(&id)),
            add_action: format!("{}/add", paths::order(&id)),
            typed: typed.0,
            order,
            checked,
            lots,
            mistakes,
        })
    }

    fn is_open(&self) -> bool {
        self.order.state == OrderState::Open
    }

    /// Whether its stock is kept no more though it is open.
    fn lapsed(&self) -> bool {
        self.is_open() && self.order.reserve_until.is_none_or(|until| until < self.today)
    }

    /// Whether something may not leave today.
    fn blocked(&self) -> bool {
        self.checked.iter().any(|line| line.blocked() || line.impossible.is_some())
    }
}

pub(in crate::sales) async fn order(State(app): State<App>, me: SignedIn, Path(id): Path<OrderId>) -> Answer {
    page(&OrderPage::read(&app, &me, id, Default::default(), Mistakes::none()).await?)
}

/// The page again with what was typed: 422 for what to mend, 409 when somebody was faster.
async fn again(app: &App, me: &SignedIn, id: OrderId, answer: Answer, typed: (AddForm, LinesForm)) -> Result<Response, AppError> {
    let error = match answer {
        Ok(response) => return Ok(response),
        Err(error) => error,
    };
    let (status, mistakes) = refused(error)?;
    let shown = OrderPage::read(app, me, id, typed, mistakes).await?;
    if status == 409 { page_overtaken(&shown) } else { page_again(&shown) }
}

pub(in crate::sales) async fn add(State(app): State<App>, me: SignedIn, Path(id): Path<OrderId>, form: Form<AddForm>) -> Answer {
    let answer = save_added(&app, &me, id, &form).await;
    again(&app, &me, id, answer, (form.input, LinesForm::default())).await
}

async fn save_added(app: &App, me: &SignedIn, id: OrderId, form: &Form<AddForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let told = add_all(&mut write, Sale::Order(id), &form.input).await?.join(", ");
    let change = Change::new("order.line-added", format!("order {id}"), told.clone());
    me.done(write, change, &paths::order(&id), format!("Added and kept: {told}.")).await
}

pub(in crate::sales) async fn change_lines(State(app): State<App>, me: SignedIn, Path(id): Path<OrderId>, form: Form<LinesForm>) -> Answer {
    let answer = save_lines(&app, &me, id, &form).await;
    again(&app, &me, id, answer, (AddForm::default(), form.input)).await
}

async fn save_lines(app: &App, me: &SignedIn, id: OrderId, form: &Form<LinesForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let lines = sale_lines::sale_lines(write.db(), Sale::Order(id)).await?;
    let terms = store::terms::terms(write.db()).await?;
    let changes = form.input.check(&lines, terms.as_ref())?;
    let changed = sale_lines::change_lines(&mut write, Sale::Order(id), &changes).await?;
    let changed = i64::try_from(changed).unwrap_or(i64::MAX);
    let change = Change::new("order.lines-changed", format!("order {id}"), text::count(&changed, "line", "lines"));
    me.done(write, change, &paths::order(&id), "Saved.").await
}

pub(in crate::sales) async fn remove_line(
    State(app): State<App>,
    me: SignedIn,
    Path((id, line)): Path<(OrderId, SaleLineId)>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    sale_lines::remove_from_order(&mut write, id, line).await?;
    let change = Change::new("order.line-removed", format!("order {id}"), "").from(format!("line {line}"));
    me.done(write, change, &paths::order(&id), "Taken off the order. It is free again.").await
}

pub(in crate::sales) async fn cancel(State(app): State<App>, me: SignedIn, Path(id): Path<OrderId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let released = orders::cancel_order(&mut write, id).await?;
    let released = i64::try_from(released).unwrap_or(i64::MAX);
    let change = Change::new("order.ended", format!("order {id}"), "ended").from("open");
    let say = format!("The order is closed. {} ended.", text::count(&released, "reservation", "reservations"));
    me.done(write, change, paths::ORDERS, say).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct HandOverForm {
    all: String,
}

pub(in crate::sales) async fn make_handover(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<OrderId>,
    form: Form<HandOverForm>,
) -> Answer {
    let answer = save_handover(&app, &me, id, &form).await;
    again(&app, &me, id, answer, Default::default()).await
}

async fn save_handover(app: &App, me: &SignedIn, id: OrderId, form: &Form<HandOverForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let taken = store::to_handover(&mut write, id, form.input.all == "yes").await?;
    let change = Change::new("handover.begun", format!("handover {}", taken.handover), format!("from order {id}"));
    let left = if taken.left.is_empty() { String::new() } else { format!(" Left on the order: {}.", taken.left.join(". ")) };
    me.done(write, change, &paths::handover(&taken.handover), format!("Made from order {id}. Check what is packed, then hand over.{left}"))
        .await
}
