//! How long prey may be for whom, and how the house orders.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::prey::{Policy, PreyRule, SizeClass};
use crate::rounds::store::prey as store;

/// One line for each class, in the same order.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct RulesForm {
    class: Vec<String>,
    most_percent: Vec<String>,
    each: Vec<String>,
    /// The classes whose prey is pre-killed.
    killed: Vec<String>,
    lead_days: String,
    cover_days: String,
}

impl RulesForm {
    fn of(rules: &[PreyRule], policy: Policy) -> Self {
        Self {
            class: rules.iter().map(|rule| rule.class.code().to_owned()).collect(),
            most_percent: rules.iter().map(|rule| rule.most_percent.to_string()).collect(),
            each: rules.iter().map(|rule| rule.each.to_string()).collect(),
            killed: rules.iter().filter(|rule| rule.killed).map(|rule| rule.class.code().to_owned()).collect(),
            lead_days: policy.lead_days.to_string(),
            cover_days: policy.cover_days.to_string(),
        }
    }

    fn check(&self) -> Result<(Vec<PreyRule>, Policy), Mistakes> {
        let mut check = Check::new();
        let mut rules = Vec::new();
        for (at, class) in self.class.iter().enumerate() {
            let class: Option<SizeClass> = check.choice("most_percent", class);
            let most_percent = check.whole("most_percent", typed(&self.most_percent, at), 1..=200);
            let each = check.whole("each", typed(&self.each, at), 1..=50);
            if let (Some(class), Some(most_percent), Some(each)) = (class, most_percent, each) {
                rules.push(PreyRule { class, most_percent, each, killed: self.killed.iter().any(|code| code == class.code()) });
            }
        }
        let lead_days = check.whole("lead_days", &self.lead_days, 0..=30);
        let cover_days = check.whole("cover_days", &self.cover_days, 1..=28);
        match (lead_days, cover_days) {
            (Some(lead_days), Some(cover_days)) if check.ok() => Ok((rules, Policy { lead_days, cover_days })),
            _ => Err(check.mistakes()),
        }
    }

    fn percent(&self, at: &usize) -> &str {
        typed(&self.most_percent, *at)
    }

    fn each(&self, at: &usize) -> &str {
        typed(&self.each, *at)
    }

    fn is_killed(&self, class: &SizeClass) -> bool {
        self.killed.iter().any(|code| code == class.code())
    }
}

fn typed(column: &[String], at: usize) -> &str {
    column.get(at).map_or("", String::as_str)
}

#[derive(Template)]
#[template(path = "rounds/prey_rules.html")]
struct RulesPage {
    layout: Layout,
    classes: Vec<SizeClass>,
    input: RulesForm,
    mistakes: Mistakes,
}

impl RulesPage {
    async fn build(app: &App, me: &SignedIn, input: RulesForm, mistakes: Mistakes) -> Result<Self, AppError> {
        Ok(Self { layout: Layout::of(app, me, Section::Today).await?, classes: SizeClass::ALL.to_vec(), input, mistakes })
    }
}

pub(in crate::rounds) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let input = RulesForm::of(&store::rules(&mut db).await?, store::policy(&mut db).await?);
    page(&RulesPage::build(&app, &me, input, Mistakes::none()).await?)
}

pub(in crate::rounds) async fn change(State(app): State<App>, me: SignedIn, form: Form<RulesForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&RulesPage::build(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<RulesForm>) -> Answer {
    let (rules, policy) = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::set_rules(&mut write, &rules).await?;
    store::set_policy(&mut write, policy).await?;
    let mut words: Vec<String> = rules
        .iter()
        .map(|rule| {
            let killed = if rule.killed { ", pre-killed" } else { "" };
            format!("{}: {} % of the leg span, {} each{killed}", rule.class, rule.most_percent, rule.each)
        })
        .collect();
    words.push(format!("orders take {} days and last {}", policy.lead_days, policy.cover_days));
    me.done(write, Change::new("prey-rules.changed", "prey", words.join("; ")), paths::PREY, "The rules of prey are saved.").await
}
