//! Forms of the round that come otherwise than from a signed-in person's page: those that waited for the wireless, and those
//! that a room's tablet sends. They are read by the same checks.

use chrono::NaiveDate;

use super::forms::{CountForm, GroupForm, HandsForm, MoultForm, QuickForm};
use super::next::change;
use crate::house::errors::AppError;
use crate::house::forms::{Fields, read_fields};
use crate::house::ids::{DutyId, ShelfId};
use crate::house::write::Write;
use crate::rounds::model::arrival::Arrival;
use crate::rounds::model::{Duty, NewSignoff, Outcome};
use crate::rounds::store;

/// Which form of a duty's page it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Deed {
    /// One tap, or one of the rarer ends.
    Quick,
    /// A moult that was found.
    Moult,
    /// A cohort's figures.
    Figures,
    /// A full count.
    Count,
    /// Work with hands in.
    HandsIn,
}

impl Deed {
    /// By the last part of its address; nothing after the duty is the quick one.
    pub(super) fn of(part: &str) -> Option<Self> {
        Some(match part {
            "" => Self::Quick,
            "moult" => Self::Moult,
            "figures" => Self::Figures,
            "count" => Self::Count,
            "hands-in" => Self::HandsIn,
            _ => return None,
        })
    }

    /// What its address adds to the duty's.
    pub(super) fn part(self) -> &'static str {
        match self {
            Self::Quick => "",
            Self::Moult => "/moult",
            Self::Figures => "/figures",
            Self::Count => "/count",
            Self::HandsIn => "/hands-in",
        }
    }

    /// Whether it is the short form.
    pub(super) fn is_quick(self) -> bool {
        self == Self::Quick
    }

    /// Reads the form's fields into a sign-off.
    pub(super) fn read(self, duty: &Duty, fields: &Fields, today: NaiveDate) -> Result<NewSignoff, AppError> {
        Ok(match self {
            Self::Quick => read_fields::<QuickForm>(fields)?.check(duty)?,
            Self::Moult => read_fields::<MoultForm>(fields)?.check(duty, today)?,
            Self::Figures => read_fields::<GroupForm>(fields)?.check(duty)?,
            Self::Count => read_fields::<CountForm>(fields)?.check(duty)?,
            Self::HandsIn => read_fields::<HandsForm>(fields)?.check(duty)?,
        })
    }
}

/// Several duties that one form signs: each with what was chosen for it.
#[derive(Debug, Default)]
pub(super) struct Batch {
    pub(super) chosen: Vec<(DutyId, Outcome)>,
    /// Listed, but nothing was chosen: these are left alone and named.
    pub(super) unseen: Vec<DutyId>,
}

impl Batch {
    /// Reads `duty` for each that was listed, `outcome-ID` for what was chosen (`leave` for later), `only` where one alone is meant,
    /// and `shelf` for the only shelf that is meant.
    pub(super) fn read(fields: &Fields) -> Result<(Self, Option<ShelfId>), AppError> {
        let strange =
            || AppError::BadRequest("This form holds something that the page does not ask for. Open your round again.".to_owned());
        let (mut listed, mut outcomes, mut shelf, mut only) = (Vec::new(), Vec::new(), None, None);
        for (name, value) in fields {
            match name.as_str() {
                "duty" => {
                    let id: DutyId = value.parse().map_err(|_| strange())?;
                    if !listed.contains(&id) {
                        listed.push(id);
                    }
                }
                "only" => only = Some(value.parse::<DutyId>().map_err(|_| strange())?),
                "shelf" => shelf = Some(value.parse::<ShelfId>().map_err(|_| strange())?),
                other => {
                    let id: DutyId = other.strip_prefix("outcome-").and_then(|id| id.parse().ok()).ok_or_else(strange)?;
                    outcomes.push((id, value.as_str()));
                }
            }
        }
        let mut batch = Self::default();
        for id in listed.into_iter().filter(|id| only.is_none_or(|only| only == *id)) {
            match outcomes.iter().find(|(of, _)| *of == id).map(|(_, code)| *code) {
                Some("leave") => {}
                Some(code) => batch.chosen.push((id, code.parse().map_err(|_| strange())?)),
                None => batch.unseen.push(id),
            }
        }
        Ok((batch, shelf))
    }

    /// Signs each by itself: what somebody else did meanwhile, or what this person may not, is named and left alone.
    pub(super) async fn sign(&self, write: &mut Write, arrival: Arrival) -> Result<Signed, AppError> {
        let mut signed = Signed::default();
        for (id, outcome) in &self.chosen {
            let duty = store::require(write.db(), *id).await?;
            match store::sign_off(write, &NewSignoff::plain(*id, *outcome).by(arrival)).await {
                Ok(done) => {
                    signed.duties.push(*id);
                    signed.written.push(change(&done).after);
                }
                Err(AppError::Conflict(why) | AppError::Forbidden(why)) => signed.refused.push((duty, *outcome, why)),
                Err(AppError::Refused(mistakes)) => {
                    let why = mistakes.all().map(|mistake| mistake.message.clone()).collect::<Vec<_>>().join(" ");
                    signed.refused.push((duty, *outcome, why));
                }
                Err(other) => return Err(other),
            }
        }
        Ok(signed)
    }
}

/// What a batch wrote, in words, and what it did not, each with why.
#[derive(Debug, Default)]
pub(super) struct Signed {
    pub(super) duties: Vec<DutyId>,
    pub(super) written: Vec<String>,
    pub(super) refused: Vec<(Duty, Outcome, String)>,
}
