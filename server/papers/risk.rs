//! The risk acknowledgement: one for each species of band 2 or 3 on a handover.

use askama::Template;

use super::frame::Frame;
use super::model::LawPlace;
use crate::house::errors::AppError;
use crate::reckoning::words::Venom;

/// What a risk acknowledgement says.
#[derive(Template)]
#[template(path = "papers/risk.html")]
pub(super) struct Acknowledgement {
    pub(super) frame: Frame,
    pub(super) species: String,
    pub(super) authority: String,
    pub(super) band: i64,
    /// Why it has that band.
    pub(super) reasons: Vec<String>,
    pub(super) cautions: Vec<String>,
    /// What leaves, in words.
    pub(super) items: Vec<String>,
    pub(super) venom: Venom,
    pub(super) venom_basis: String,
    pub(super) old_world: bool,
    pub(super) setae: bool,
    /// The age that the house asks for; 0: none.
    pub(super) least_age: i64,
    pub(super) law_note: String,
    pub(super) places: Vec<LawPlace>,
}

impl Acknowledgement {
    fn significant(&self) -> bool {
        self.venom == Venom::Significant
    }
}

/// The acknowledgement as a whole HTML document.
///
/// # Errors
/// The template fails.
pub(super) fn render(acknowledgement: &Acknowledgement) -> Result<String, AppError> {
    Ok(acknowledgement.render()?)
}
