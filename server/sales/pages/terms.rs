//! The house's currency and tax, and what receipts say of the seller: for owners.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::money::Currency;
use crate::house::{paths, text};
use crate::reckoning::money::{Rounding, TaxRate};
use crate::sales::model::{NewTerms, Terms};
use crate::sales::store::terms;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct TermsForm {
    currency: String,
    tax_name: String,
    tax_percent: String,
    prices_include_tax: String,
    rounding: String,
    tax_number: String,
    reserve_days: String,
    version: String,
}

impl TermsForm {
    fn of(terms: Option<&Terms>) -> Self {
        let Some(terms) = terms else {
            return Self {
                tax_name: "VAT".to_owned(),
                prices_include_tax: "yes".to_owned(),
                rounding: Rounding::Document.code().to_owned(),
                reserve_days: "7".to_owned(),
                version: "0".to_owned(),
                ..Self::default()
            };
        };
        Self {
            currency: terms.currency.clone(),
            tax_name: terms.tax_name.clone(),
            tax_percent: terms.tax_percent.clone(),
            prices_include_tax: if terms.prices_include_tax { "yes" } else { "no" }.to_owned(),
            rounding: terms.rounding.code().to_owned(),
            tax_number: terms.tax_number.clone(),
            reserve_days: terms.reserve_days.to_string(),
            version: terms.version.to_string(),
        }
    }

    fn check(&self) -> Result<(i64, NewTerms), Mistakes> {
        let mut check = Check::new();
        let currency = Currency::of(&self.currency);
        if currency.is_none() {
            check.add("currency", "Enter the three letters of a currency by ISO 4217, such as EUR, GBP, JPY.");
        }
        let tax_name = check.text("tax_name", &self.tax_name, 40);
        let tax = self.tax_percent.trim().replace(',', ".").parse::<TaxRate>();
        if let Err(why) = &tax {
            check.add("tax_percent", text::sentence(why));
        }
        let included = match self.prices_include_tax.as_str() {
            "yes" => Some(true),
            "no" => Some(false),
            _ => None,
        };
        if included.is_none() {
            check.add("prices_include_tax", "Choose one of the list.");
        }
        let rounding = check.choice("rounding", &self.rounding);
        let tax_number = check.optional_text("tax_number", &self.tax_number, 60);
        let days = check.whole("reserve_days", &self.reserve_days, 1..=365);
        let version = check.whole("version", &self.version, 0..=i64::MAX);
        match (currency, tax_name, tax.ok(), included, rounding, tax_number, days, version) {
            (
                Some(currency),
                Some(tax_name),
                Some(tax),
                Some(prices_include_tax),
                Some(rounding),
                Some(tax_number),
                Some(reserve_days),
                Some(version),
            ) => Ok((version, NewTerms { currency, tax_name, tax, prices_include_tax, rounding, tax_number, reserve_days })),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "sales/terms.html")]
struct TermsPage {
    layout: Layout,
    included: Vec<Choice>,
    roundings: Vec<Choice>,
    input: TermsForm,
    mistakes: Mistakes,
}

impl TermsPage {
    async fn of(app: &App, me: &SignedIn, input: TermsForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let included = vec![Choice::new("yes", "prices include the tax"), Choice::new("no", "the tax comes on top")];
        let roundings = choices(Rounding::ALL, Rounding::code);
        Ok(Self { layout: Layout::of(app, me, Section::Sales).await?, included, roundings, input, mistakes })
    }
}

pub(in crate::sales) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let stands = terms::terms(&mut *app.read().await?).await?;
    page(&TermsPage::of(&app, &me, TermsForm::of(stands.as_ref()), Mistakes::none()).await?)
}

pub(in crate::sales) async fn change(State(app): State<App>, me: SignedIn, form: Form<TermsForm>) -> Answer {
    let (version, mistakes) = match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => (form.input.version.clone(), mistakes),
        Err(AppError::Conflict(why)) => {
            let stands = terms::terms(&mut *app.read().await?).await?;
            let now = stands.as_ref().map_or_else(String::new, in_brief);
            let version = stands.map_or(0, |terms| terms.version).to_string();
            (version, Mistakes::one("", format!("{why} There now stand: {now}. Check, and save again if yours should stand.")))
        }
        answer => return answer,
    };
    page_again(&TermsPage::of(&app, &me, TermsForm { version, ..form.input }, mistakes).await?)
}

async fn save(app: &App, me: &SignedIn, form: &Form<TermsForm>) -> Answer {
    let (version, new) = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let before = terms::terms(write.db()).await?.as_ref().map_or_else(String::new, in_brief);
    terms::set_terms(&mut write, version, &new).await?;
    let after = terms::terms(write.db()).await?.as_ref().map_or_else(String::new, in_brief);
    me.done(write, Change::new("terms.changed", "terms", after).from(before), paths::PRICES, "The settings are saved.").await
}

fn in_brief(terms: &Terms) -> String {
    let included = if terms.prices_include_tax { "within" } else { "on top of" };
    format!("{}, {} {} % {included} the prices, rounded {}", terms.currency, terms.tax_name, terms.tax_percent, terms.rounding)
}
