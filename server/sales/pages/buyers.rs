//! A buyer's page, and correcting what is known of them.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::BuyerId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::sales::model::{Buyer, Handover, NewBuyer, Order};
use crate::sales::store;

/// Checks what was typed of a buyer.
pub(super) fn check_buyer(check: &mut Check, name: &str, contact: &str, address: &str) -> Option<NewBuyer> {
    let name = check.text("name", name, 120);
    let contact = check.optional_text("contact", contact, 200);
    let address = check.paragraphs("address", address, 400);
    Some(NewBuyer { name: name?, contact: contact?, address: address? })
}

#[derive(Template)]
#[template(path = "sales/buyer.html")]
struct BuyerPage {
    layout: Layout,
    buyer: Buyer,
    handovers: Vec<Handover>,
    orders: Vec<Order>,
    today: chrono::NaiveDate,
}

pub(in crate::sales) async fn buyer(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>) -> Answer {
    let mut db = app.read().await?;
    let buyer = store::require_buyer(&mut db, id).await?;
    let handovers = store::handovers_of(&mut db, id).await?;
    let orders = store::orders::orders_of(&mut db, id).await?;
    page(&BuyerPage { layout: Layout::of(&app, &me, Section::Sales).await?, buyer, handovers, orders, today: app.today() })
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct BuyerForm {
    name: String,
    contact: String,
    address: String,
    version: String,
}

#[derive(Template)]
#[template(path = "sales/edit_buyer.html")]
struct EditPage {
    layout: Layout,
    buyer: Buyer,
    input: BuyerForm,
    mistakes: Mistakes,
}

pub(in crate::sales) async fn edit_buyer(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>) -> Answer {
    let buyer = store::require_buyer(&mut *app.read().await?, id).await?;
    let input = BuyerForm {
        name: buyer.name.clone(),
        contact: buyer.contact.clone(),
        address: buyer.address.clone(),
        version: buyer.version.to_string(),
    };
    page(&EditPage { layout: Layout::of(&app, &me, Section::Sales).await?, buyer, input, mistakes: Mistakes::none() })
}

pub(in crate::sales) async fn change_buyer(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>, form: Form<BuyerForm>) -> Answer {
    let buyer = store::require_buyer(&mut *app.read().await?, id).await?;
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&EditPage { layout: Layout::of(&app, &me, Section::Sales).await?, buyer, input: form.input, mistakes })
        }
        answer => answer,
    }
}

/// The audit trail is read by more people than buyers' names are for, so it names the buyer by number only.
async fn save(app: &App, me: &SignedIn, id: BuyerId, form: &Form<BuyerForm>) -> Answer {
    let input = &form.input;
    let mut check = Check::new();
    let new = check_buyer(&mut check, &input.name, &input.contact, &input.address);
    let version = check.whole("version", &input.version, 1..=i64::MAX);
    let (Some(new), Some(version)) = (new, version) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::update_buyer(&mut write, id, version, &new).await?;
    let change = Change::new("buyer.corrected", format!("buyer {id}"), "corrected");
    me.done(write, change, &paths::buyer(&id), "Corrected.").await
}
