//! Entering what came, what was lost, and what was counted.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::PreyKindId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::rounds::model::prey::{LineWhat, NewLine, PreyKind, Stock};
use crate::rounds::store::prey as store;

/// The most that one entry takes.
const MOST: u32 = 1_000_000;

/// Prey that came, or was lost.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct LineForm {
    what: String,
    kind: String,
    day: String,
    quantity: String,
    packs: String,
    cost: String,
    note: String,
}

impl LineForm {
    fn check(&self, today: NaiveDate, kinds: &[PreyKind]) -> Result<NewLine, Mistakes> {
        let mut check = Check::new();
        let what: Option<LineWhat> = check.choice("what", &self.what);
        let chosen: Option<PreyKindId> = check.choice("kind", &self.kind);
        let kind = chosen.and_then(|id| kinds.iter().find(|kind| kind.id == id));
        if chosen.is_some() && kind.is_none() {
            check.add("kind", "This kind of prey is not in the book. Choose one of the list.");
        }
        let day = check.day("day", &self.day, today);
        let quantity = self.quantity(&mut check, kind);
        let cost_minor = cost(&mut check, &self.cost);
        if cost_minor.is_some() && what != Some(LineWhat::Delivered) {
            check.add("cost", "Only a delivery has a cost. Leave it empty.");
        }
        let note = check.optional_text("note", &self.note, 200);
        match (what, kind, day, quantity, note) {
            (Some(what), Some(kind), Some(day), Some(quantity), Some(note)) if check.ok() => {
                Ok(NewLine { kind: kind.id, day, what, quantity, cost_minor, note })
            }
            _ => Err(check.mistakes()),
        }
    }

    /// Single ones, or whole packs of the kind.
    fn quantity(&self, check: &mut Check, kind: Option<&PreyKind>) -> Option<u32> {
        let packs = check.optional_whole("packs", &self.packs, 1..=10_000);
        match (packs, self.packs.trim().is_empty(), self.quantity.trim().is_empty()) {
            (_, true, _) => check.whole("quantity", &self.quantity, 1..=MOST),
            (Some(packs), _, true) => {
                let many = kind?.per_pack.saturating_mul(packs);
                if many > MOST {
                    check.add("packs", format!("These are {many}; at most {MOST} fit in one entry."));
                }
                (many <= MOST).then_some(many)
            }
            (None, ..) => None,
            (Some(_), _, false) => {
                check.add("packs", "Enter either how many, or how many packs, not both.");
                None
            }
        }
    }
}

/// An amount of money with at most two decimal places, in minor units; nothing typed is nothing.
fn cost(check: &mut Check, typed: &str) -> Option<i64> {
    let typed = typed.trim().replace(',', ".");
    if typed.is_empty() {
        return None;
    }
    let (whole, decimal) = typed.split_once('.').unwrap_or((&typed, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let sound = (1..=7).contains(&whole.len()) && decimal.len() <= 2 && digits(whole) && digits(decimal);
    let amount = format!("{whole}{decimal:0<2}").parse().ok().filter(|_| sound);
    if amount.is_none() {
        check.add("cost", "Enter an amount with at most two decimal places, such as 12.50.");
    }
    amount
}

#[derive(Template)]
#[template(path = "rounds/prey_enter.html")]
struct EnterPage {
    layout: Layout,
    input: LineForm,
    whats: Vec<Choice>,
    kinds: Vec<Choice>,
    mistakes: Mistakes,
}

impl EnterPage {
    async fn build(app: &App, me: &SignedIn, kinds: &[PreyKind], input: LineForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let whats = [LineWhat::Delivered, LineWhat::Died, LineWhat::Thrown].map(|what| Choice::new(what.code(), text_of(what))).to_vec();
        Ok(Self { layout: Layout::of(app, me, Section::Today).await?, input, whats, kinds: choices(kinds), mistakes })
    }
}

fn text_of(what: LineWhat) -> &'static str {
    match what {
        LineWhat::Delivered => "a delivery came",
        LineWhat::Died => "some died off",
        _ => "some were thrown away",
    }
}

/// The kinds in use, with what a pack holds.
fn choices(kinds: &[PreyKind]) -> Vec<Choice> {
    let used = kinds.iter().filter(|kind| kind.active);
    used.map(|kind| Choice::new(kind.id, format!("{}, packs of {}", kind.label(), kind.per_pack))).collect()
}

/// What a link chooses beforehand.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::rounds) struct Chosen {
    what: String,
    kind: String,
}

pub(in crate::rounds) async fn enter(State(app): State<App>, me: SignedIn, Query(chosen): Query<Chosen>) -> Answer {
    let kinds = store::kinds(&mut *app.read().await?).await?;
    let input = LineForm { what: chosen.what, kind: chosen.kind, day: text::iso_day(&app.today()), ..LineForm::default() };
    page(&EnterPage::build(&app, &me, &kinds, input, Mistakes::none()).await?)
}

pub(in crate::rounds) async fn save_line(State(app): State<App>, me: SignedIn, form: Form<LineForm>) -> Answer {
    let kinds = store::kinds(&mut *app.read().await?).await?;
    match enter_line(&app, &me, &kinds, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&EnterPage::build(&app, &me, &kinds, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn enter_line(app: &App, me: &SignedIn, kinds: &[PreyKind], form: &Form<LineForm>) -> Answer {
    let new = form.input.check(app.today(), kinds)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let line = store::add_line(&mut write, &new).await?;
    let name = kinds.iter().find(|kind| kind.id == new.kind).map(PreyKind::label).unwrap_or_default();
    let say = format!("{}: {} {}.", name, new.quantity, new.what);
    let change = Change::new("prey.entered", format!("prey line {line}"), format!("{say} {}", text::day(&new.day)));
    me.done(write, change, paths::PREY, say).await
}

/// What was found of each kind; a kind that was left empty was not counted.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct CountForm {
    kind: Vec<String>,
    counted: Vec<String>,
    note: String,
}

impl CountForm {
    fn check(&self, stock: &[Stock]) -> Result<(Vec<(PreyKindId, u32)>, String), Mistakes> {
        let mut check = Check::new();
        let mut counted = Vec::new();
        for (at, kind) in self.kind.iter().enumerate() {
            let typed = self.counted.get(at).map_or("", String::as_str);
            let kind: Option<PreyKindId> = check.choice("counted", kind);
            if kind.is_some_and(|kind| !stock.iter().any(|of| of.kind.id == kind)) {
                check.add("counted", "A kind of prey on this form is not in the book. Open the page again.");
            }
            counted.extend(kind.zip(check.optional_whole("counted", typed, 0..=MOST)));
        }
        let note = check.optional_text("note", &self.note, 200);
        if check.ok() && counted.is_empty() {
            check.add("counted", "Enter what you counted of at least one kind.");
        }
        match note {
            Some(note) if check.ok() => Ok((counted, note)),
            _ => Err(check.mistakes()),
        }
    }

    fn typed(&self, kind: &PreyKindId) -> &str {
        let at = self.kind.iter().position(|listed| *listed == kind.to_string());
        at.and_then(|at| self.counted.get(at)).map_or("", String::as_str)
    }
}

#[derive(Template)]
#[template(path = "rounds/prey_count.html")]
struct CountPage {
    layout: Layout,
    input: CountForm,
    stock: Vec<Stock>,
    mistakes: Mistakes,
}

impl CountPage {
    async fn build(app: &App, me: &SignedIn, mut stock: Vec<Stock>, input: CountForm, mistakes: Mistakes) -> Result<Self, AppError> {
        stock.retain(|of| of.kind.active || of.quantity != 0);
        Ok(Self { layout: Layout::of(app, me, Section::Today).await?, input, stock, mistakes })
    }
}

pub(in crate::rounds) async fn count(State(app): State<App>, me: SignedIn) -> Answer {
    let stock = store::stock(&mut *app.read().await?).await?;
    page(&CountPage::build(&app, &me, stock, CountForm::default(), Mistakes::none()).await?)
}

pub(in crate::rounds) async fn save_count(State(app): State<App>, me: SignedIn, form: Form<CountForm>) -> Answer {
    let stock = store::stock(&mut *app.read().await?).await?;
    match enter_count(&app, &me, &stock, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&CountPage::build(&app, &me, stock, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn enter_count(app: &App, me: &SignedIn, stock: &[Stock], form: &Form<CountForm>) -> Answer {
    let (counted, note) = form.input.check(stock)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let mut told = Vec::new();
    for (kind, counted) in counted {
        let difference = store::count(&mut write, kind, counted, &note).await?;
        let name = stock.iter().find(|of| of.kind.id == kind).map(|of| of.kind.label()).unwrap_or_default();
        told.push(match difference {
            0 => format!("{name}: {counted}, as the book had"),
            more @ 1.. => format!("{name}: {counted}, {more} more than the book had"),
            fewer => format!("{name}: {counted}, {} fewer than the book had", -fewer),
        });
    }
    let say = format!("Counted. {}.", told.join("; "));
    me.done(write, Change::new("prey.counted", "prey", told.join("; ")), paths::PREY, say).await
}
