//! What a credit note says, drawn once and then frozen. Changing the templates changes notes to come, never issued ones.

use askama::Template;
use chrono::NaiveDate;

use super::model::{Buyer, CreditWhy, Terms};
use crate::house::errors::AppError;
use crate::house::ids::HandoverId;
use crate::house::money::Currency;
use crate::house::site::Site;
use crate::papers::frame::Frame;
use crate::papers::model::PaperKind;
use crate::reckoning::money::{TaxRate, Totals};

/// A line of a credit note.
#[derive(Debug)]
pub(super) struct CreditedLine {
    /// What it was, in words.
    pub what: String,
    /// Its species' accepted name.
    pub species: String,
    /// For how many.
    pub quantity: u32,
    /// Why.
    pub why: CreditWhy,
    /// What was charged for the whole line, in minor units.
    pub charged_minor: i64,
    /// What is credited.
    pub amount_minor: i64,
}

/// Everything that a credit note says.
#[derive(Debug)]
pub(super) struct CreditFacts {
    /// Who bought.
    pub buyer: Buyer,
    /// The house.
    pub site: Site,
    /// The note's number.
    pub number: String,
    /// The local day.
    pub day: NaiveDate,
    /// The handover.
    pub handover: HandoverId,
    /// The day of the handover.
    pub sold_on: Option<NaiveDate>,
    /// The number of its receipt.
    pub receipt: Option<String>,
    /// What is credited.
    pub lines: Vec<CreditedLine>,
    /// The tax rate of the sale.
    pub tax: TaxRate,
    /// Currency and tax.
    pub terms: Terms,
    /// The totals.
    pub totals: Totals,
    /// What else the buyer reads; names nobody.
    pub note: String,
}

#[derive(Template)]
#[template(path = "sales/credit_note.html")]
struct CreditNote<'a> {
    frame: Frame,
    facts: &'a CreditFacts,
    currency: Currency,
    rate: String,
}

#[derive(Template)]
#[template(path = "sales/receipt_buyer.html")]
struct CreditBuyer<'a> {
    buyer: &'a Buyer,
}

/// The note with a mark where the buyer's part goes, and that part.
///
/// # Errors
/// The template fails.
pub(super) fn render(facts: &CreditFacts) -> Result<(String, String), AppError> {
    let running = format!("handover {}", facts.handover);
    let note = CreditNote {
        frame: Frame::of(&facts.site, PaperKind::CreditNote, &facts.number, facts.day, running),
        currency: facts.terms.currency(),
        rate: facts.tax.written(),
        facts,
    };
    Ok((note.render()?, CreditBuyer { buyer: &facts.buyer }.render()?))
}
