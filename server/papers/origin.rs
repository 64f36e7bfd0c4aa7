//! The statement of origin of one line of a handover.

use askama::Template;

use super::frame::Frame;
use super::model::{ChainRow, StockStatement};
use crate::house::errors::AppError;

/// What a statement of origin says.
#[derive(Template)]
#[template(path = "papers/origin.html")]
pub(super) struct Statement {
    pub(super) frame: Frame,
    pub(super) registration: String,
    pub(super) telephone: String,
    pub(super) species: String,
    pub(super) authority: String,
    /// The facts of the animals, a name and a value each.
    pub(super) facts: Vec<(&'static str, String)>,
    /// The source code, what it stands for, and why it is given.
    pub(super) code: String,
    pub(super) meaning: String,
    pub(super) basis: String,
    pub(super) generation: String,
    pub(super) generation_basis: String,
    /// The lead's statement that code C rests on.
    pub(super) stock: Option<StockStatement>,
    pub(super) rows: Vec<ChainRow>,
    pub(super) missing: Vec<String>,
    pub(super) listed: bool,
}

/// The statement as a whole HTML document.
///
/// # Errors
/// The template fails.
pub(super) fn render(statement: &Statement) -> Result<String, AppError> {
    Ok(statement.render()?)
}
