//! What a letter of a recall says, drawn once and then frozen. It reports what the house found and gives no advice of its own: what to do is
//! for a veterinarian or an authority to say.

use askama::Template;
use chrono::NaiveDate;

use super::model::Buyer;
use super::model::recall::{Found, Recall};
use crate::house::errors::AppError;
use crate::house::site::Site;
use crate::papers::frame::Frame;
use crate::papers::model::PaperKind;

#[derive(Template)]
#[template(path = "papers/recall_letter.html")]
struct Letter<'a> {
    frame: Frame,
    recall: &'a Recall,
    found: &'a [Found],
}

#[derive(Template)]
#[template(path = "papers/recall_buyer.html")]
struct Person<'a> {
    buyer: &'a Buyer,
}

/// The letter without whom it is for.
///
/// # Errors
/// The template fails.
pub(super) fn body(site: &Site, number: &str, day: NaiveDate, recall: &Recall, found: &[Found]) -> Result<String, AppError> {
    let frame = Frame::of(site, PaperKind::RecallLetter, number, day, recall.species.clone());
    Ok(Letter { frame, recall, found }.render()?)
}

/// Whom it is for.
///
/// # Errors
/// The template fails.
pub(super) fn person(buyer: &Buyer) -> Result<String, AppError> {
    Ok(Person { buyer }.render()?)
}
