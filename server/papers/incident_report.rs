//! The report of an incident, for the file or for a clinician.

use askama::Template;

use super::frame::Frame;
use crate::house::errors::AppError;

/// One note of an incident.
pub(super) struct Noted {
    pub(super) at: String,
    pub(super) topic: String,
    pub(super) text: String,
    pub(super) by: String,
}

/// What an incident report says.
#[derive(Template)]
#[template(path = "papers/incident_report.html")]
pub(super) struct Report {
    pub(super) frame: Frame,
    pub(super) kind: String,
    pub(super) person: String,
    pub(super) at: String,
    pub(super) label: Option<String>,
    pub(super) species: Option<String>,
    pub(super) old_world: bool,
    pub(super) venom: Option<String>,
    /// The band and what to know of it.
    pub(super) hazard: Option<(i64, Vec<String>)>,
    pub(super) notes: Vec<Noted>,
    pub(super) review: Option<String>,
    /// The house's own emergency numbers.
    pub(super) emergency: Vec<String>,
}

/// The report as a whole HTML document.
///
/// # Errors
/// The template fails.
pub(super) fn render(report: &Report) -> Result<String, AppError> {
    Ok(report.render()?)
}
