//! The card that hangs at an enclosure: who lives there, what to mind, when it moves next.

use askama::Template;

use super::frame::Frame;
use crate::house::errors::AppError;

/// What a rehouse card says.
#[derive(Template)]
#[template(path = "papers/rehouse_card.html")]
pub(super) struct Card {
    pub(super) frame: Frame,
    pub(super) tag: String,
    pub(super) species: String,
    pub(super) band: i64,
    pub(super) cautions: Vec<String>,
    /// A name and a value each.
    pub(super) facts: Vec<(&'static str, String)>,
    /// The QR code of the animal's own address, drawn by the program.
    pub(super) code: String,
    pub(super) address: String,
}

/// The card as a whole HTML document.
///
/// # Errors
/// The template fails.
pub(super) fn render(card: &Card) -> Result<String, AppError> {
    Ok(card.render()?)
}
