//! What a receipt says, drawn once and then frozen. Changing the templates changes receipts to come, never issued ones.

use askama::Template;
use chrono::NaiveDate;

use super::model::{Buyer, SaleLine, Terms};
use crate::house::errors::AppError;
use crate::house::ids::{HandoverId, OrderId};
use crate::house::money::Currency;
use crate::house::site::Site;
use crate::papers::frame::Frame;
use crate::papers::model::PaperKind;
use crate::reckoning::money::Totals;

/// Everything that a receipt says.
#[derive(Debug)]
pub(super) struct ReceiptFacts {
    /// Who bought.
    pub buyer: Buyer,
    /// The house.
    pub site: Site,
    /// The receipt's number.
    pub number: String,
    /// The local day.
    pub day: NaiveDate,
    /// The handover.
    pub handover: HandoverId,
    /// The order that it fulfilled.
    pub order: Option<OrderId>,
    /// What was sold, each with its price.
    pub lines: Vec<SaleLine>,
    /// Currency and tax.
    pub terms: Terms,
    /// The totals.
    pub totals: Totals,
}

/// A line as it is printed.
struct Printed<'a> {
    line: &'a SaleLine,
    sum: i64,
}

#[derive(Template)]
#[template(path = "sales/receipt.html")]
struct Receipt<'a> {
    frame: Frame,
    facts: &'a ReceiptFacts,
    lines: Vec<Printed<'a>>,
    discount: i64,
    currency: Currency,
    rate: String,
}

#[derive(Template)]
#[template(path = "sales/receipt_buyer.html")]
struct ReceiptBuyer<'a> {
    buyer: &'a Buyer,
}

/// The document, with the place of the buyer's part, and that part.
///
/// # Errors
/// The template fails.
pub(super) fn render(facts: &ReceiptFacts) -> Result<(String, String), AppError> {
    let sums = facts.totals.lines_minor.iter();
    let rate = facts.terms.rate().map_err(|error| AppError::Internal(error.into()))?;
    let receipt = Receipt {
        frame: Frame::of(&facts.site, PaperKind::Receipt, &facts.number, facts.day, format!("handover {}", facts.handover)),
        lines: facts.lines.iter().zip(sums).map(|(line, sum)| Printed { line, sum: *sum }).collect(),
        discount: facts.lines.iter().filter_map(SaleLine::discount_minor).sum(),
        currency: facts.terms.currency(),
        rate: rate.written(),
        facts,
    };
    Ok((receipt.render()?, ReceiptBuyer { buyer: &facts.buyer }.render()?))
}
