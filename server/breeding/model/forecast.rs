//! What the house's own sacs took, by species, and the forecasts that follow.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::pairing::PairingRow;
use crate::house::errors::AppError;
use crate::house::ids::{SacId, SpeciesId};
use crate::reckoning::breeding::forecast::{OfGroup, SacForecast, SacWindow, forecast};
use crate::reckoning::breeding::{SacGroup, StageDays};
use crate::reckoning::stage::Stage;

/// From where to where an interval runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Leg {
    /// From pairing to sac.
    ToSac,
    /// From laying to post-embryos.
    PostEmbryo,
    /// From laying to first instar.
    FirstInstar,
    /// From laying to second instar.
    SecondInstar,
}

impl Leg {
    /// The stages after laying, in their order.
    pub const STAGES: [Self; 3] = [Self::PostEmbryo, Self::FirstInstar, Self::SecondInstar];

    /// The stage at its end; none for the sac itself.
    #[must_use]
    pub fn stage(self) -> Option<Stage> {
        match self {
            Self::ToSac => None,
            Self::PostEmbryo => Some(Stage::PostEmbryo),
            Self::FirstInstar => Some(Stage::Instar(1)),
            Self::SecondInstar => Some(Stage::Instar(2)),
        }
    }

    /// The leg that ends at a stage.
    #[must_use]
    pub fn to(stage: Stage) -> Option<Self> {
        Self::STAGES.into_iter().find(|leg| leg.stage() == Some(stage))
    }
}

/// What is usual for a species.
#[derive(Debug, Clone, Copy)]
pub struct Usual {
    /// Its breeding group, where somebody has said.
    pub group: Option<SacGroup>,
    /// Days from pairing to sac.
    pub to_sac: (u32, u32),
    /// Days from laying to each stage.
    pub stages: StageDays,
}

impl Usual {
    /// The usual days of a leg.
    #[must_use]
    pub fn of(&self, leg: Leg) -> (u32, u32) {
        match leg {
            Leg::ToSac => self.to_sac,
            Leg::PostEmbryo => self.stages.post_embryo,
            Leg::FirstInstar => self.stages.first_instar,
            Leg::SecondInstar => self.stages.second_instar,
        }
    }
}

/// What one sac took.
#[derive(Debug, Clone, Copy)]
pub struct Took {
    /// The sac.
    pub sac: SacId,
    /// Its species.
    pub species: SpeciesId,
    /// Of which leg.
    pub leg: Leg,
    /// The days.
    pub days: f64,
}

/// What the house's sacs took, and what is usual.
#[derive(Debug, Clone, Default)]
pub struct Intervals {
    /// What is usual, by species.
    pub usual: BTreeMap<SpeciesId, Usual>,
    /// What each finished leg of each sac took.
    pub took: Vec<Took>,
}

impl Intervals {
    /// When a leg is to be expected to end, for a species; what the sac itself took is left out.
    ///
    /// # Errors
    /// A species that is not in the book; a usual range that is none.
    pub fn forecast(&self, species: SpeciesId, leg: Leg, without: Option<SacId>) -> Result<SacForecast, AppError> {
        let usual = self.usual.get(&species).ok_or(AppError::NotFound)?;
        let others = || self.took.iter().filter(|took| took.leg == leg && Some(took.sac) != without);
        let own: Vec<f64> = others().filter(|took| took.species == species).map(|took| took.days).collect();
        let of_group = |took: &Took| {
            let theirs = self.usual.get(&took.species).filter(|theirs| took.species != species && theirs.group == usual.group)?;
            Some(OfGroup { days: took.days, usual: theirs.of(leg) })
        };
        // Where nobody has said the group, there is none to learn from.
        let group: Vec<OfGroup> = if usual.group.is_some() { others().filter_map(of_group).collect() } else { Vec::new() };
        forecast(usual.of(leg), &own, &group).map_err(|error| AppError::Internal(error.into()))
    }
}

/// A stage that a sac is to reach: when, what that rests on, and when it was seen.
#[derive(Debug, Clone)]
pub struct StageAhead {
    /// The stage.
    pub stage: Stage,
    /// Its window.
    pub window: SacWindow,
    /// What the window rests on.
    pub basis: String,
    /// The day it was first seen.
    pub seen_on: Option<NaiveDate>,
}

/// A pairing of which a sac is waited for.
#[derive(Debug, Clone)]
pub struct Watched {
    /// The pairing.
    pub pairing: PairingRow,
    /// The day from which it is counted.
    pub since: NaiveDate,
    /// The window.
    pub window: SacWindow,
    /// What the window rests on.
    pub basis: String,
    /// Whether the window is past.
    pub late: bool,
}
