//! Writing a credit note.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::HandoverId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::money::Currency;
use crate::house::{paths, text};
use crate::reckoning::money::TaxRate;
use crate::sales::model::{CreditNote, CreditWhy, Credited, Handover, HandoverState, Line, NewCredit, NewCreditLine, Terms};
use crate::sales::store::{self, credits};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct CreditForm {
    line: Vec<String>,
    quantity: Vec<String>,
    why: Vec<String>,
    charged: Vec<String>,
    amount: Vec<String>,
    tax: String,
    note: String,
}

/// What was typed of one line.
#[derive(Debug, Clone, Default)]
struct Typed {
    quantity: String,
    why: String,
    charged: String,
    amount: String,
}

impl CreditForm {
    fn typed(&self, line: &Line) -> Typed {
        let place = self.line.iter().position(|id| *id == line.id.to_string());
        let of = |column: &[String]| place.and_then(|at| column.get(at)).cloned().unwrap_or_default();
        Typed { quantity: of(&self.quantity), why: of(&self.why), charged: of(&self.charged), amount: of(&self.amount) }
    }

    fn check(&self, rows: &[(Line, Credited)], currency: &Currency) -> Result<NewCredit, Mistakes> {
        let mut check = Check::new();
        let mut lines = Vec::new();
        for (line, known) in rows {
            let typed = self.typed(line);
            if !typed.amount.trim().is_empty() {
                lines.extend(check_line(&mut check, line, known, &typed, currency));
            }
        }
        let tax = self.tax.trim().replace(',', ".").parse::<TaxRate>();
        if let Err(error) = &tax {
            check.add("tax", text::sentence(error));
        }
        let note = check.paragraphs("note", &self.note, 600);
        match (tax, note) {
            (Ok(tax), Some(note)) if check.ok() => Ok(NewCredit { tax, lines, note }),
            _ => Err(check.mistakes()),
        }
    }
}

fn check_line(check: &mut Check, line: &Line, known: &Credited, typed: &Typed, currency: &Currency) -> Option<NewCreditLine> {
    let what = text::capitalised(&line.words());
    let mut read = |typed: &str| match currency.read(typed) {
        Ok(minor) if minor > 0 => Some(minor),
        Ok(_) => {
            check.add("amounts", format!("{what}: enter an amount above 0."));
            None
        }
        Err(why) => {
            check.add("amounts", format!("{what}: {why}"));
            None
        }
    };
    let amount = read(&typed.amount);
    let charged = known.charged_minor.or_else(|| read(&typed.charged));
    let quantity = typed.quantity.trim().parse::<u32>().ok().filter(|quantity| (1..=line.quantity).contains(quantity));
    if quantity.is_none() {
        check.add("amounts", format!("{what}: enter for how many, from 1 to {}.", line.quantity));
    }
    let why = typed.why.parse::<CreditWhy>().ok();
    if why.is_none() {
        check.add("amounts", format!("{what}: choose why."));
    }
    Some(NewCreditLine { line: line.id, quantity: quantity?, why: why?, charged_minor: charged?, amount_minor: amount? })
}

struct Row {
    line: Line,
    known: Credited,
    typed: Typed,
}

impl Row {
    /// What is left to credit of the line, when it is known what was charged.
    fn left(&self) -> Option<i64> {
        self.known.charged_minor.map(|charged| charged - self.known.credited_minor)
    }
}

#[derive(Template)]
#[template(path = "sales/road/credit.html")]
struct CreditPage {
    layout: Layout,
    handover: Handover,
    receipt: Option<String>,
    terms: Option<Terms>,
    currency: Currency,
    rows: Vec<Row>,
    whys: Vec<Choice>,
    notes: Vec<CreditNote>,
    input: CreditForm,
    mistakes: Mistakes,
}

impl CreditPage {
    async fn read(app: &App, me: &SignedIn, id: HandoverId, input: Option<CreditForm>, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let handover = store::require_handover(&mut db, id).await?;
        if handover.state != HandoverState::Done {
            return Err(AppError::conflict("This handover is not done, so nothing of it is credited."));
        }
        let terms = store::terms::terms(&mut db).await?;
        let notes = credits::of(&mut db, id).await?;
        let input = input.unwrap_or_else(|| CreditForm { tax: tax_of(&notes, terms.as_ref()), ..CreditForm::default() });
        let rows = rows(&mut db, id).await?.into_iter().map(|(line, known)| Row { typed: input.typed(&line), line, known }).collect();
        Ok(Self {
            receipt: credits::receipt_of(&mut db, id).await?,
            layout: Layout::of(app, me, Section::Sales).await?,
            currency: terms.as_ref().map_or(Currency { code: String::new(), decimals: 2 }, Terms::currency),
            whys: choices(CreditWhy::ALL, CreditWhy::code),
            handover,
            terms,
            rows,
            notes,
            input,
            mistakes,
        })
    }
}

/// The rate of the notes before it, or else the house's.
fn tax_of(notes: &[CreditNote], terms: Option<&Terms>) -> String {
    notes.first().map(|note| note.tax_percent.clone()).or(terms.map(|terms| terms.tax_percent.clone())).unwrap_or_default()
}

async fn rows(db: &mut sqlx::SqliteConnection, id: HandoverId) -> Result<Vec<(Line, Credited)>, AppError> {
    let known = credits::so_far(&mut *db, id).await?;
    let lines = store::lines(db, id).await?.into_iter();
    Ok(lines.filter_map(|line| known.iter().find(|known| known.handover_line_id == line.id).map(|known| (line, *known))).collect())
}

pub(in crate::sales) async fn credit(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>) -> Answer {
    page(&CreditPage::read(&app, &me, id, None, Mistakes::none()).await?)
}

pub(in crate::sales) async fn issue_credit(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<HandoverId>,
    form: Form<CreditForm>,
) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&CreditPage::read(&app, &me, id, Some(form.input), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: HandoverId, form: &Form<CreditForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let terms = store::terms::terms(write.db()).await?;
    let currency = terms.map(|terms| terms.currency());
    let currency = currency.ok_or_else(|| AppError::conflict("The house has no currency yet: an owner sets it first."))?;
    let rows = rows(write.db(), id).await?;
    let new = form.input.check(&rows, &currency)?;
    let notes = credits::of(write.db(), id).await?;
    if notes.first().is_some_and(|note| note.tax_percent != new.tax.written()) {
        let why = "The tax rate is that of the sale: the credit notes of one handover all carry the same.";
        return Err(AppError::refused("tax", why));
    }
    let issued = credits::issue(&mut write, app, id, &new).await?;
    let change = Change::new("handover.credited", format!("handover {id}"), format!("{} {}", issued.number, issued.fingerprint));
    me.done(write, change, &paths::handover(&id), format!("Credit note {} is issued: print it now.", issued.number)).await
}
