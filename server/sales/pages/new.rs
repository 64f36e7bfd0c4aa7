//! Beginning a handover, for a buyer of the book or a new one.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::BuyerId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::sales::model::NewBuyer;
use crate::sales::store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct HandoverForm {
    buyer: String,
    name: String,
    contact: String,
    address: String,
    note: String,
}

/// Who takes the animals: somebody in the book, or somebody new.
pub(super) enum Who {
    Known(BuyerId),
    New(NewBuyer),
}

impl HandoverForm {
    /// The part of a form that says who takes the animals.
    pub(super) fn of_buyer(buyer: &str, name: &str, contact: &str, address: &str) -> Self {
        let owned = |text: &str| text.to_owned();
        Self { buyer: owned(buyer), name: owned(name), contact: owned(contact), address: owned(address), note: String::new() }
    }

    pub(super) fn check(&self) -> Result<(Who, String), Mistakes> {
        let mut check = Check::new();
        let note = check.paragraphs("note", &self.note, 600);
        let who = if self.buyer.trim().is_empty() { self.new_buyer(&mut check) } else { self.known_buyer(&mut check) };
        match (who, note) {
            (Some(who), Some(note)) if check.ok() => Ok((who, note)),
            _ => Err(check.mistakes()),
        }
    }

    fn new_buyer(&self, check: &mut Check) -> Option<Who> {
        super::buyers::check_buyer(check, &self.name, &self.contact, &self.address).map(Who::New)
    }

    fn known_buyer(&self, check: &mut Check) -> Option<Who> {
        if [&self.name, &self.contact, &self.address].iter().any(|typed| !typed.trim().is_empty()) {
            check.add("buyer", "Choose somebody of the list, or leave this at “somebody new” and fill in the name: not both.");
        }
        check.choice("buyer", &self.buyer).map(Who::Known)
    }
}

#[derive(Template)]
#[template(path = "sales/new.html")]
struct NewPage {
    layout: Layout,
    buyers: Vec<Choice>,
    input: HandoverForm,
    mistakes: Mistakes,
}

/// The buyers of the book, for the list of a form; somebody new first.
pub(super) async fn buyer_choices(app: &App) -> Result<Vec<Choice>, AppError> {
    let known = store::buyers(&mut *app.read().await?).await?;
    let known = known.into_iter().map(|buyer| {
        let label = if buyer.contact.is_empty() { buyer.name } else { format!("{} ({})", buyer.name, buyer.contact) };
        Choice::new(buyer.id, label)
    });
    Ok(std::iter::once(Choice::new("", "somebody new")).chain(known).collect())
}

impl NewPage {
    async fn read(app: &App, me: &SignedIn, input: HandoverForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let buyers = buyer_choices(app).await?;
        Ok(Self { layout: Layout::of(app, me, Section::Sales).await?, buyers, input, mistakes })
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::sales) struct For {
    buyer: String,
}

pub(in crate::sales) async fn new_handover(State(app): State<App>, me: SignedIn, Query(asked): Query<For>) -> Answer {
    let input = HandoverForm { buyer: asked.buyer, ..HandoverForm::default() };
    page(&NewPage::read(&app, &me, input, Mistakes::none()).await?)
}

pub(in crate::sales) async fn create_handover(State(app): State<App>, me: SignedIn, form: Form<HandoverForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&NewPage::read(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<HandoverForm>) -> Answer {
    let (who, note) = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let buyer = match who {
        Who::Known(id) => id,
        Who::New(new) => store::insert_buyer(&mut write, &new).await?,
    };
    let id = match store::insert_handover(&mut write, buyer, &note).await {
        Err(AppError::NotFound) => return Err(AppError::refused("buyer", "This buyer is not in the book. Choose one of the list.")),
        inserted => inserted?,
    };
    let change = Change::new("handover.begun", format!("handover {id}"), format!("buyer {buyer}"));
    me.done(write, change, &paths::handover(&id), "Add what goes, then hand over.").await
}
