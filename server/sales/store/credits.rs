//! Credit notes: what is given back of a handover, never more than was charged, right to the minor unit.

use sqlx::SqliteConnection;

use super::terms::terms;
use super::{lines, require_buyer, require_handover};
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::HandoverId;
use crate::house::site::Site;
use crate::house::text;
use crate::house::write::Write;
use crate::papers;
use crate::papers::model::{About, Issued, NewPaper, PaperKind};
use crate::reckoning::money::{self, MoneyError, Totals};
use crate::sales::credit_note::{CreditFacts, CreditedLine, render};
use crate::sales::model::{CreditNote, Credited, HandoverState, NewCredit, Terms};

/// What was charged for each line of a handover by its prices, or by an earlier credit note, and what has been credited of it.
///
/// # Errors
/// The database can't be read.
pub async fn so_far(db: &mut SqliteConnection, id: HandoverId) -> Result<Vec<Credited>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.id AS handover_line_id,
                COALESCE(
                    (SELECT CASE WHEN COUNT(*) > 0 AND COUNT(*) = COUNT(unit_minor) THEN SUM(unit_minor * packs) END FROM sale_line
                     WHERE sale_line.handover_id = line.handover_id AND (sale_line.animal_id = line.animal_id
                       OR (sale_line.cohort_id = line.cohort_id AND sale_line.stage = line.stage))),
                    (SELECT MAX(charged_minor) FROM credit_line WHERE credit_line.handover_line_id = line.id)) AS charged_minor,
                (SELECT COALESCE(SUM(amount_minor), 0) FROM credit_line WHERE credit_line.handover_line_id = line.id) AS credited_minor
         FROM handover_line AS line WHERE line.handover_id = ? ORDER BY line.id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// The credit notes of a handover, in the order they were issued.
///
/// # Errors
/// The database can't be read.
pub async fn of(db: &mut SqliteConnection, id: HandoverId) -> Result<Vec<CreditNote>, AppError> {
    Ok(sqlx::query_as(
        "SELECT credit_note.paper_id, paper.number, credit_note.currency, credit_note.tax_percent, credit_note.net_minor,
                credit_note.tax_minor, credit_note.gross_minor, paper.issued_on
         FROM credit_note JOIN paper ON paper.id = credit_note.paper_id
         WHERE credit_note.handover_id = ? ORDER BY credit_note.paper_id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// The number of a handover's receipt, when it has one.
///
/// # Errors
/// The database can't be read.
pub async fn receipt_of(db: &mut SqliteConnection, id: HandoverId) -> Result<Option<String>, AppError> {
    let papers = papers::store::of_handover(db, id).await?;
    Ok(papers.into_iter().find(|paper| paper.kind == PaperKind::Receipt).map(|paper| paper.number))
}

/// Issues a credit note.
///
/// # Errors
/// A handover that is not done; a house without a currency; nothing credited; more than was charged or than is left of it.
pub async fn issue(write: &mut Write, app: &App, id: HandoverId, new: &NewCredit) -> Result<Issued, AppError> {
    let handover = require_handover(write.db(), id).await?;
    if handover.state != HandoverState::Done {
        return Err(AppError::conflict("This handover is not done, so nothing of it is credited."));
    }
    let terms = terms(write.db()).await?.ok_or_else(|| AppError::conflict("The house has no currency yet: an owner sets it first."))?;
    let before = so_far(write.db(), id).await?;
    check(write, id, new, &before).await?;
    let notes = of(write.db(), id).await?;
    let totals = totals(new, &before, &notes, &terms).map_err(|error| AppError::refused("amounts", text::sentence(&error)))?;
    if totals.gross_minor <= 0 {
        return Err(AppError::refused("amounts", "This adds up to nothing. Enter what is credited."));
    }
    let number = papers::store::next_number(write, PaperKind::CreditNote).await?;
    let credited = printed(write, id, new).await?;
    let facts = CreditFacts {
        buyer: require_buyer(write.db(), handover.buyer_id).await?,
        site: Site::read(write.db()).await?,
        number: number.clone(),
        day: write.today,
        handover: id,
        sold_on: handover.day,
        receipt: receipt_of(write.db(), id).await?,
        lines: credited,
        tax: new.tax,
        terms: terms.clone(),
        totals: totals.clone(),
        note: new.note.clone(),
    };
    let (body, person) = render(&facts)?;
    let paper = NewPaper {
        kind: PaperKind::CreditNote,
        number,
        about: About { handover: Some(id), buyer: Some(handover.buyer_id), ..About::default() },
        profile: None,
        language: "en".to_owned(),
        title: format!("Credit note for handover {id}"),
        body,
        person: Some(person),
        link: false,
    };
    let issued = papers::store::freeze(write, app, paper).await?;
    insert(write, id, &issued, new, (&terms, &totals)).await?;
    Ok(issued)
}

async fn check(write: &mut Write, id: HandoverId, new: &NewCredit, before: &[Credited]) -> Result<(), AppError> {
    let mut mistakes = Mistakes::none();
    if new.lines.is_empty() {
        mistakes.add("amounts", "Nothing is credited yet. Enter an amount at one line or more.");
    }
    let on_handover = lines(write.db(), id).await?;
    for credit in &new.lines {
        let sold = on_handover.iter().find(|line| line.id == credit.line);
        let known = before.iter().find(|line| line.handover_line_id == credit.line);
        let (Some(sold), Some(known)) = (sold, known) else {
            mistakes.add("amounts", "A line is of another handover. Open the page again.");
            continue;
        };
        let what = text::capitalised(&sold.words());
        if credit.quantity > sold.quantity {
            mistakes.add("amounts", format!("{what}: only {} were handed over.", sold.quantity));
        }
        if known.charged_minor.is_some_and(|charged| charged != credit.charged_minor) {
            mistakes.add("amounts", format!("{what}: what was charged for it stands already."));
        } else if credit.amount_minor > credit.charged_minor - known.credited_minor {
            mistakes.add("amounts", format!("{what}: more than was charged for it, or than is left of that after earlier credit notes."));
        }
    }
    if mistakes.is_empty() { Ok(()) } else { Err(mistakes.into()) }
}

/// The totals of a credit note: those of all that is credited with it, less those of the notes before it. So the notes of a
/// handover never give back more tax than all of them together carry, however the parts are rounded.
fn totals(new: &NewCredit, before: &[Credited], notes: &[CreditNote], terms: &Terms) -> Result<Totals, MoneyError> {
    let amount = |line: &Credited| {
        let more: i64 = new.lines.iter().filter(|credit| credit.line == line.handover_line_id).map(|credit| credit.amount_minor).sum();
        money::Line { quantity: 1, unit_minor: u64::try_from(line.credited_minor.saturating_add(more)).unwrap_or(0) }
    };
    let all: Vec<money::Line> = before.iter().map(amount).filter(|line| line.unit_minor > 0).collect();
    let mut totals = money::totals(&all, new.tax, terms.prices_include_tax, terms.rounding)?;
    for note in notes {
        totals.net_minor -= note.net_minor;
        totals.tax_minor -= note.tax_minor;
        totals.gross_minor -= note.gross_minor;
    }
    Ok(totals)
}

async fn printed(write: &mut Write, id: HandoverId, new: &NewCredit) -> Result<Vec<CreditedLine>, AppError> {
    let on_handover = lines(write.db(), id).await?;
    let printed = new.lines.iter().filter_map(|credit| {
        let line = on_handover.iter().find(|line| line.id == credit.line)?;
        Some(CreditedLine {
            what: line.words(),
            species: line.species.clone(),
            quantity: credit.quantity,
            why: credit.why,
            charged_minor: credit.charged_minor,
            amount_minor: credit.amount_minor,
        })
    });
    Ok(printed.collect())
}

async fn insert(
    write: &mut Write,
    id: HandoverId,
    issued: &Issued,
    new: &NewCredit,
    (terms, totals): (&Terms, &Totals),
) -> Result<(), AppError> {
    sqlx::query(
        "INSERT INTO credit_note (paper_id, handover_id, currency, tax_percent, prices_include_tax, net_minor, tax_minor, gross_minor)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(issued.id)
    .bind(id)
    .bind(&terms.currency)
    .bind(new.tax.written())
    .bind(terms.prices_include_tax)
    .bind(totals.net_minor)
    .bind(totals.tax_minor)
    .bind(totals.gross_minor)
    .execute(write.db())
    .await?;
    for line in &new.lines {
        sqlx::query(
            "INSERT INTO credit_line (paper_id, handover_line_id, quantity, why, charged_minor, amount_minor) VALUES (?, ?, ?, ?, ?, ?)",
        )
        .bind(issued.id)
        .bind(line.line)
        .bind(line.quantity)
        .bind(line.why)
        .bind(line.charged_minor)
        .bind(line.amount_minor)
        .execute(write.db())
        .await?;
    }
    Ok(())
}
