//! The handover note: what left, who gave it, when, on which terms, with which papers.

use askama::Template;

use super::frame::Frame;
use crate::house::errors::AppError;

/// One line of a handover as its note names it.
pub(super) struct NoteLine {
    pub(super) species: String,
    /// How many.
    pub(super) quantity: u32,
    /// What: tag or cohort, stage.
    pub(super) what: String,
}

/// What a handover note says.
#[derive(Template)]
#[template(path = "papers/note.html")]
pub(super) struct Note {
    pub(super) frame: Frame,
    pub(super) telephone: String,
    /// The handover's number in the book.
    pub(super) handover: i64,
    pub(super) by: String,
    /// The local instant in words.
    pub(super) at: String,
    /// How it leaves.
    pub(super) way: &'static str,
    pub(super) lines: Vec<NoteLine>,
    pub(super) total: u32,
    pub(super) terms: String,
    /// Number and kind of each paper, and what it is about.
    pub(super) papers: Vec<(String, String, String)>,
}

/// The note as a whole HTML document.
///
/// # Errors
/// The template fails.
pub(super) fn render(note: &Note) -> Result<String, AppError> {
    Ok(note.render()?)
}
