//! How long buyers are kept: the house's rule with whom it erases next, and keeping one of them longer.

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
use crate::sales::model::{Buyer, Coming, FIRST_DAYS, Rule};
use crate::sales::store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct RuleForm {
    months: String,
    version: String,
}

#[derive(Template)]
#[template(path = "sales/buyers/rule.html")]
struct RulePage {
    layout: Layout,
    rule: Rule,
    coming: Vec<Coming>,
    first_days: i64,
    input: RuleForm,
    mistakes: Mistakes,
}

impl RulePage {
    async fn of(app: &App, me: &SignedIn, input: Option<RuleForm>, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let rule = store::retention::rule(&mut db).await?;
        let coming = store::retention::coming(&mut db, app.today(), FIRST_DAYS).await?;
        let stands = || RuleForm { months: rule.months.to_string(), version: app.site().version.to_string() };
        let input = input.unwrap_or_else(stands);
        let layout = Layout::of(app, me, Section::Sales).await?;
        Ok(Self { layout, rule, coming, first_days: FIRST_DAYS, input, mistakes })
    }
}

pub(in crate::sales) async fn show_rule(State(app): State<App>, me: SignedIn) -> Answer {
    page(&RulePage::of(&app, &me, None, Mistakes::none()).await?)
}

pub(in crate::sales) async fn change_rule(State(app): State<App>, me: SignedIn, form: Form<RuleForm>) -> Answer {
    match save_rule(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&RulePage::of(&app, &me, Some(form.input), mistakes).await?),
        answer => answer,
    }
}

async fn save_rule(app: &App, me: &SignedIn, form: &Form<RuleForm>) -> Answer {
    let mut check = Check::new();
    let months = check.whole("months", &form.input.months, 0..=600_u32);
    let version = check.whole("version", &form.input.version, 1..=i64::MAX);
    let (Some(months), Some(version)) = (months, version) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let before = store::retention::rule(write.db()).await?;
    store::retention::change_rule(&mut write, months, version).await?;
    let change = Change::new("buyers.rule-changed", "buyers", format!("{months} months")).from(format!("{} months", before.months));
    let answer = me.done(write, change, paths::BUYERS_RULE, "The rule is saved.").await?;
    app.refresh_site().await?;
    Ok(answer)
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct KeepForm {
    keep: String,
    until: String,
    reason: String,
    version: String,
}

#[derive(Template)]
#[template(path = "sales/buyers/keep.html")]
struct KeepPage {
    layout: Layout,
    buyer: Buyer,
    input: KeepForm,
    mistakes: Mistakes,
}

async fn kept(app: &App, id: BuyerId) -> Result<Buyer, AppError> {
    let buyer = store::require_buyer(&mut *app.read().await?, id).await?;
    if buyer.is_erased() {
        return Err(AppError::conflict("This buyer was erased: there is nothing to keep."));
    }
    Ok(buyer)
}

pub(in crate::sales) async fn keep_longer(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>) -> Answer {
    let buyer = kept(&app, id).await?;
    let input = KeepForm {
        keep: if buyer.kept_until.is_some() { "yes".to_owned() } else { String::new() },
        until: buyer.kept_until.map_or_else(String::new, |day| day.to_string()),
        reason: buyer.kept_reason.clone(),
        version: buyer.version.to_string(),
    };
    page(&KeepPage { layout: Layout::of(&app, &me, Section::Sales).await?, buyer, input, mistakes: Mistakes::none() })
}

pub(in crate::sales) async fn keep_buyer(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>, form: Form<KeepForm>) -> Answer {
    let buyer = kept(&app, id).await?;
    match save_hold(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&KeepPage { layout: Layout::of(&app, &me, Section::Sales).await?, buyer, input: form.input, mistakes })
        }
        answer => answer,
    }
}

/// The reason may tell of the person, so the audit trail has the day alone.
async fn save_hold(app: &App, me: &SignedIn, id: BuyerId, form: &Form<KeepForm>) -> Answer {
    let input = &form.input;
    let mut check = Check::new();
    let version = check.whole("version", &input.version, 1..=i64::MAX);
    let hold = if input.keep == "yes" {
        let until = check.coming_day("until", &input.until, app.today());
        let reason = check.text("reason", &input.reason, 400);
        until.zip(reason)
    } else {
        None
    };
    let Some(version) = version.filter(|_| check.ok()) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let before = store::require_buyer(write.db(), id).await?.kept_until;
    store::retention::keep_buyer(&mut write, id, version, hold.as_ref().map(|(until, reason)| (*until, reason.as_str()))).await?;
    let told = |until: Option<chrono::NaiveDate>| until.map_or_else(|| "by the rule".to_owned(), |day| format!("until {day}"));
    let change = Change::new("buyer.kept", format!("buyer {id}"), told(hold.as_ref().map(|(until, _)| *until))).from(told(before));
    let say = if hold.is_some() { "They are kept for that long." } else { "They are kept as long as the house's rule says." };
    me.done(write, change, &paths::buyer(&id), say).await
}
