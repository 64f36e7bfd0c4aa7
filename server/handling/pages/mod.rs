//! Pages of the handling room, split by subject.

pub(super) mod board;
pub(super) mod cautions;
pub(super) mod checklist;
pub(super) mod clearances;
pub(super) mod holds;
pub(super) mod incident;
pub(super) mod incidents;
pub(super) mod overview;
pub(super) mod plan;
pub(super) mod practice;
pub(super) mod safe_work;
pub(super) mod table;
pub(super) mod who_may;

use serde::Deserialize;

use super::model::HoldSubject;
use crate::house::errors::AppError;
use crate::house::forms::{Check, Mistakes};
use crate::house::ids::{AnimalId, CohortId};
use crate::house::write::Write;
use crate::rounds;

/// Which animal or cohort a page was opened for.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct About {
    animal: Option<AnimalId>,
    cohort: Option<CohortId>,
}

impl About {
    /// The one that it names; none, or both, is a page that does not exist.
    fn subject(&self) -> Result<HoldSubject, AppError> {
        match (self.animal, self.cohort) {
            (Some(id), None) => Ok(HoldSubject::Animal(id)),
            (None, Some(id)) => Ok(HoldSubject::Cohort(id)),
            _ => Err(AppError::NotFound),
        }
    }
}

/// A form with one field: why something ends early.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(super) struct WhyForm {
    why: String,
}

impl WhyForm {
    fn check(&self) -> Result<String, Mistakes> {
        let mut check = Check::new();
        check.text("why", &self.why, 300).ok_or_else(|| check.mistakes())
    }
}

/// Plans an animal's or a cohort's duties anew after what may be done with it has changed.
async fn replan(write: &mut Write, subject: HoldSubject) -> Result<(), AppError> {
    match subject {
        HoldSubject::Animal(id) => rounds::store::replan_animal(write, id).await?,
        HoldSubject::Cohort(id) => rounds::store::replan_cohort(write, id).await?,
    };
    Ok(())
}

/// A text of one to several lines that must not be empty.
fn required_paragraphs(check: &mut Check, field: &'static str, typed: &str, most: usize) -> Option<String> {
    let text = check.paragraphs(field, typed, most)?;
    if text.is_empty() {
        check.add(field, "Fill this in.");
        return None;
    }
    Some(text)
}
