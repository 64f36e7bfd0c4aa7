//! Beginning a handover at the stall: made for one hand and a phone.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{BuyerId, OutingId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::sales::model::{NewBuyer, Outing, OutingState};
use crate::sales::pages::buyers::check_buyer;
use crate::sales::store::{self, outings};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct SellForm {
    name: String,
    contact: String,
    address: String,
    buyer: String,
}

enum Who {
    Known(BuyerId),
    New(NewBuyer),
}

impl SellForm {
    fn check(&self) -> Result<Who, Mistakes> {
        let mut check = Check::new();
        let typed = [&self.name, &self.contact, &self.address].iter().any(|typed| !typed.trim().is_empty());
        if typed && !self.buyer.trim().is_empty() {
            check.add("buyer", "Choose somebody of the list, or leave this at “somebody new” and fill in the name: not both.");
        }
        let who = if self.buyer.trim().is_empty() {
            check_buyer(&mut check, &self.name, &self.contact, &self.address).map(Who::New)
        } else {
            check.choice("buyer", &self.buyer).map(Who::Known)
        };
        who.filter(|_| check.ok()).ok_or_else(|| check.mistakes())
    }
}

#[derive(Template)]
#[template(path = "sales/outings/sell.html")]
struct SellPage {
    layout: Layout,
    outing: Outing,
    buyers: Vec<Choice>,
    input: SellForm,
    mistakes: Mistakes,
}

impl SellPage {
    async fn read(app: &App, me: &SignedIn, id: OutingId, input: SellForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let outing = outings::require_in(&mut db, id, OutingState::Out).await?;
        let known = store::buyers(&mut db).await?.into_iter().map(|buyer| {
            let label = if buyer.contact.is_empty() { buyer.name } else { format!("{} ({})", buyer.name, buyer.contact) };
            Choice::new(buyer.id, label)
        });
        let buyers = std::iter::once(Choice::new("", "somebody new")).chain(known).collect();
        Ok(Self { layout: Layout::of(app, me, Section::Sales).await?, outing, buyers, input, mistakes })
    }
}

pub(in crate::sales) async fn sell(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>) -> Answer {
    page(&SellPage::read(&app, &me, id, SellForm::default(), Mistakes::none()).await?)
}

pub(in crate::sales) async fn begin_sale(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>, form: Form<SellForm>) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&SellPage::read(&app, &me, id, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: OutingId, form: &Form<SellForm>) -> Answer {
    let who = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let buyer = match who {
        Who::Known(id) => id,
        Who::New(new) => store::insert_buyer(&mut write, &new).await?,
    };
    let handover = match outings::begin_sale(&mut write, id, buyer, "").await {
        Err(AppError::NotFound) => return Err(AppError::refused("buyer", "This buyer is not in the book. Choose one of the list.")),
        begun => begun?,
    };
    let change = Change::new("handover.begun", format!("handover {handover}"), format!("buyer {buyer}, outing {id}"));
    me.done(write, change, &paths::handover(&handover), "Choose what goes, then hand over.").await
}
