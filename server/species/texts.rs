//! The starter texts of care sheets: data that a house begins with and then makes its own.

use chrono::NaiveDate;
use serde::Deserialize;

use super::model::text::Sections;
use crate::reckoning::language::Language;

/// The starter texts by language. Figures stand in them as fields, so that they can't differ from the care profile.
const LIBRARY: [&str; 2] = [include_str!("texts/en.json"), include_str!("texts/de.json")];

/// The starter texts in one language.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StarterTexts {
    /// The language.
    pub language: Language,
    /// The day on which they were written.
    pub written_on: NaiveDate,
    /// A text for each species.
    pub texts: Vec<StarterText>,
}

/// The starter text of a species.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StarterText {
    /// The accepted scientific name.
    pub species: String,
    /// The words.
    pub sections: Sections,
}

/// The starter texts in every language that has some.
///
/// # Errors
/// When the embedded data is not of the shape above, which a test rules out.
pub fn library() -> Result<Vec<StarterTexts>, serde_json::Error> {
    LIBRARY.iter().map(|texts| serde_json::from_str(texts)).collect()
}
