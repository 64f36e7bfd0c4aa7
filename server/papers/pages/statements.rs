//! Leads' statements on breeding stock: what code C of a first generation rests on.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::StatementId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::paths;
use crate::papers::model::{NewStatement, StockStatement};
use crate::papers::store;
use crate::reckoning::captive_code::Grounds;
use crate::species;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::papers) struct StatementForm {
    species: String,
    line: String,
    grounds: String,
    why: String,
}

impl StatementForm {
    fn check(&self) -> Result<NewStatement, Mistakes> {
        let mut check = Check::new();
        let species = check.choice("species", &self.species);
        let line = check.optional_text("line", &self.line, 120);
        let grounds = check.choice("grounds", &self.grounds);
        let why = check.paragraphs("why", &self.why, 600);
        if why.as_deref() == Some("") {
            check.add("why", "Say what shows it: which pairings, which broods, whose papers.");
        }
        match (species, line, grounds, why) {
            (Some(species), Some(line), Some(grounds), Some(why)) if check.ok() => Ok(NewStatement { species, line, grounds, why }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "papers/statements.html")]
struct ListPage {
    layout: Layout,
    statements: Vec<StockStatement>,
    species: Vec<Choice>,
    grounds: Vec<Choice>,
    input: StatementForm,
    mistakes: Mistakes,
}

impl ListPage {
    async fn of(app: &App, me: &SignedIn, input: StatementForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let all = species::store::all(&mut db).await?;
        Ok(Self {
            layout: Layout::of(app, me, Section::Breeding).await?,
            statements: store::statements(&mut db).await?,
            species: all.iter().map(|line| Choice::new(line.id, &line.accepted_name)).collect(),
            grounds: choices(Grounds::ALL, Grounds::code),
            input,
            mistakes,
        })
    }
}

pub(in crate::papers) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    page(&ListPage::of(&app, &me, StatementForm::default(), Mistakes::none()).await?)
}

pub(in crate::papers) async fn add(State(app): State<App>, me: SignedIn, form: Form<StatementForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ListPage::of(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<StatementForm>) -> Answer {
    let new = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::add_statement(&mut write, &new).await?;
    let what = format!("species {}, line “{}”: {}; {}", new.species, new.line, new.grounds.code(), new.why);
    let say = "The statement stands from today on, with your name.";
    me.done(write, Change::new("stock-statement.made", format!("stock statement {id}"), what), paths::STOCK_STATEMENTS, say).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::papers) struct WithdrawForm {
    why: String,
}

#[derive(Template)]
#[template(path = "papers/withdraw_statement.html")]
struct WithdrawPage {
    layout: Layout,
    statement: StockStatement,
    input: WithdrawForm,
    mistakes: Mistakes,
}

impl WithdrawPage {
    async fn of(app: &App, me: &SignedIn, id: StatementId, input: WithdrawForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let all = store::statements(&mut *app.read().await?).await?;
        let statement = all.into_iter().find(|statement| statement.id == id).ok_or(AppError::NotFound)?;
        Ok(Self { layout: Layout::of(app, me, Section::Breeding).await?, statement, input, mistakes })
    }
}

pub(in crate::papers) async fn confirm(State(app): State<App>, me: SignedIn, Path(id): Path<StatementId>) -> Answer {
    page(&WithdrawPage::of(&app, &me, id, WithdrawForm::default(), Mistakes::none()).await?)
}

pub(in crate::papers) async fn withdraw(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<StatementId>,
    form: Form<WithdrawForm>,
) -> Answer {
    match save_withdrawal(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&WithdrawPage::of(&app, &me, id, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save_withdrawal(app: &App, me: &SignedIn, id: StatementId, form: &Form<WithdrawForm>) -> Answer {
    let mut check = Check::new();
    let why = check.text("why", &form.input.why, 300).ok_or_else(|| check.mistakes())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::withdraw_statement(&mut write, id, &why).await?;
    let change = Change::new("stock-statement.withdrawn", format!("stock statement {id}"), why).from("standing");
    me.done(write, change, paths::STOCK_STATEMENTS, "Withdrawn. Papers that were issued on it stay as issued.").await
}
