//! Entering a buyer, and correcting what is known of them.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::check_buyer;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::BuyerId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::language::Language;
use crate::sales::model::{Buyer, NewBuyer};
use crate::sales::store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct BuyerForm {
    name: String,
    contact: String,
    address: String,
    language: String,
    version: String,
}

impl BuyerForm {
    fn of(buyer: &Buyer) -> Self {
        Self {
            name: buyer.name.clone(),
            contact: buyer.contact.clone(),
            address: buyer.address.clone(),
            language: buyer.language.clone(),
            version: buyer.version.to_string(),
        }
    }

    fn check(&self, check: &mut Check) -> Option<(NewBuyer, Option<Language>)> {
        let new = check_buyer(check, &self.name, &self.contact, &self.address);
        let language = check.optional_choice("language", &self.language);
        new.filter(|_| check.ok()).map(|new| (new, language))
    }
}

/// The languages that a buyer may read, each by its own name; one that was entered otherwise stays in the list.
fn languages(chosen: &str) -> Vec<Choice> {
    let mut languages: Vec<Language> = Language::offered().collect();
    if let Ok(other) = chosen.parse::<Language>()
        && !languages.contains(&other)
    {
        languages.push(other);
    }
    let first = Choice::new("", "as the house writes");
    std::iter::once(first).chain(languages.iter().map(|language| Choice::new(language, language.name()))).collect()
}

#[derive(Template)]
#[template(path = "sales/buyers/edit.html")]
struct EditPage {
    layout: Layout,
    /// Who is corrected; nobody when somebody new is entered.
    buyer: Option<Buyer>,
    languages: Vec<Choice>,
    input: BuyerForm,
    mistakes: Mistakes,
}

impl EditPage {
    async fn of(app: &App, me: &SignedIn, buyer: Option<Buyer>, input: BuyerForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Sales).await?;
        Ok(Self { layout, buyer, languages: languages(&input.language), input, mistakes })
    }
}

pub(in crate::sales) async fn new_buyer(State(app): State<App>, me: SignedIn) -> Answer {
    page(&EditPage::of(&app, &me, None, BuyerForm::default(), Mistakes::none()).await?)
}

pub(in crate::sales) async fn create_buyer(State(app): State<App>, me: SignedIn, form: Form<BuyerForm>) -> Answer {
    match create(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&EditPage::of(&app, &me, None, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn create(app: &App, me: &SignedIn, form: &Form<BuyerForm>) -> Answer {
    let mut check = Check::new();
    let Some((new, language)) = form.input.check(&mut check) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::insert_buyer(&mut write, &new).await?;
    store::set_language(&mut write, id, language.as_ref()).await?;
    me.done(write, Change::new("buyer.entered", format!("buyer {id}"), "entered"), &paths::buyer(&id), "In the book.").await
}

pub(in crate::sales) async fn edit_buyer(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>) -> Answer {
    let buyer = correctable(&app, id).await?;
    let input = BuyerForm::of(&buyer);
    page(&EditPage::of(&app, &me, Some(buyer), input, Mistakes::none()).await?)
}

async fn correctable(app: &App, id: BuyerId) -> Result<Buyer, AppError> {
    let buyer = store::require_buyer(&mut *app.read().await?, id).await?;
    if buyer.is_erased() {
        return Err(AppError::conflict("This buyer was erased. Enter them as somebody new if they come again."));
    }
    Ok(buyer)
}

pub(in crate::sales) async fn change_buyer(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>, form: Form<BuyerForm>) -> Answer {
    let buyer = correctable(&app, id).await?;
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&EditPage::of(&app, &me, Some(buyer), form.input, mistakes).await?),
        answer => answer,
    }
}

/// The audit trail is read by more people than buyers' names are for, so it names the buyer by number only.
async fn save(app: &App, me: &SignedIn, id: BuyerId, form: &Form<BuyerForm>) -> Answer {
    let mut check = Check::new();
    let checked = form.input.check(&mut check);
    let version = check.whole("version", &form.input.version, 1..=i64::MAX);
    let (Some((new, language)), Some(version)) = (checked, version) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::update_buyer(&mut write, id, version, &new).await?;
    store::set_language(&mut write, id, language.as_ref()).await?;
    me.done(write, Change::new("buyer.corrected", format!("buyer {id}"), "corrected"), &paths::buyer(&id), "Corrected.").await
}
