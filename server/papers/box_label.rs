//! The label of a box with living animals.

use askama::Template;

use super::frame::Frame;
use super::person::Buyer;
use crate::house::errors::AppError;

/// What a box label says.
#[derive(Template)]
#[template(path = "papers/box_label.html")]
pub(super) struct BoxLabel {
    pub(super) frame: Frame,
    pub(super) telephone: String,
    pub(super) box_min_c: i64,
    pub(super) box_max_c: i64,
    /// Species, how many, and the band: what is inside.
    pub(super) inside: Vec<(String, u32, i64)>,
}

#[derive(Template)]
#[template(path = "papers/receiver.html")]
struct Receiver<'a> {
    buyer: &'a Buyer,
}

/// The label as a whole HTML document, and the part that names the receiver.
///
/// # Errors
/// The template fails.
pub(super) fn render(label: &BoxLabel, buyer: &Buyer) -> Result<(String, String), AppError> {
    Ok((label.render()?, Receiver { buyer }.render()?))
}
