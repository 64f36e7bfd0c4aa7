//! Erasing a buyer by hand.

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
use crate::sales::keep;
use crate::sales::model::inventory::{INVENTORY, Kept};
use crate::sales::model::{Buyer, Unfinished};
use crate::sales::store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct EraseForm {
    sure: String,
}

#[derive(Template)]
#[template(path = "sales/buyers/erase.html")]
struct ErasePage {
    layout: Layout,
    buyer: Buyer,
    unfinished: Unfinished,
    inventory: &'static [Kept],
    input: EraseForm,
    mistakes: Mistakes,
}

impl ErasePage {
    async fn of(app: &App, me: &SignedIn, id: BuyerId, input: EraseForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let buyer = store::require_buyer(&mut db, id).await?;
        if buyer.is_erased() {
            return Err(AppError::conflict("This buyer was erased already."));
        }
        let unfinished = store::unfinished(&mut db, id, app.today()).await?;
        let layout = Layout::of(app, me, Section::Sales).await?;
        Ok(Self { layout, buyer, unfinished, inventory: &INVENTORY, input, mistakes })
    }
}

pub(in crate::sales) async fn confirm_erasure(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>) -> Answer {
    page(&ErasePage::of(&app, &me, id, EraseForm::default(), Mistakes::none()).await?)
}

pub(in crate::sales) async fn erase_buyer(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>, form: Form<EraseForm>) -> Answer {
    match erase(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ErasePage::of(&app, &me, id, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn erase(app: &App, me: &SignedIn, id: BuyerId, form: &Form<EraseForm>) -> Answer {
    let mut check = Check::new();
    if form.input.sure != "yes" {
        check.add("sure", "Tick this if they are to be erased.");
        return Err(check.mistakes().into());
    }
    let mut write = app.begin(me.id(), &form.once).await?;
    store::erasure::erase(&mut write, id).await?;
    let change = Change::new("buyer.erased", format!("buyer {id}"), "erased");
    let answer = me.done(write, change, &paths::buyer(&id), "Erased. The number stays, the person does not.").await?;
    if let Err(error) = keep::finish(app).await {
        // The mark that the file is to be written anew stands in the book: the next look does it.
        tracing::error!(?error, "the file could not be written anew after an erasure; the next try follows soon");
        me.visit
            .flash("The book's file could not be rewritten without them at once; the house tries again within ten minutes.", true)
            .await?;
    }
    Ok(answer)
}
