//! The part of a paper that names its buyer: drawn by itself, so that it can be erased.

use askama::Template;

use crate::house::errors::AppError;

/// The buyer, as papers name them.
#[derive(Debug, Clone, Template, sqlx::FromRow)]
#[template(path = "papers/person.html")]
pub(super) struct Buyer {
    /// Their name.
    pub(super) name: String,
    /// Telephone or mail; may be empty.
    pub(super) contact: String,
    /// Where they live; may be empty.
    pub(super) address: String,
}

/// The buyer as a row of a list of facts.
///
/// # Errors
/// The template fails.
pub(super) fn row(buyer: &Buyer) -> Result<String, AppError> {
    Ok(buyer.render()?)
}
