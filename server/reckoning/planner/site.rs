//! What the house decides for itself, whatever the species.

use chrono::{Days, NaiveDate};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};

use super::care::{Care, SacRules, StageRules};
use super::facts::HoldFacts;
use crate::reckoning::words::{Exposure, HoldKind, LifeStage};

/// The house's own numbers; every default is common practice, no source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SiteRules {
    /// The zone whose local days the house works in.
    pub zone: Tz,
    /// Hours that a threat display holds opening.
    pub agitated_open_hours: u32,
    /// Days that a threat display holds work with hands in.
    pub agitated_hands_in_days: u32,
    /// Refusals in a row that raise a moult check, for spiderlings; like the next five, where a care profile is silent.
    pub refusals_spiderling: u32,
    /// The same for juveniles.
    pub refusals_juvenile: u32,
    /// The same for adults.
    pub refusals_adult: u32,
    /// Days between moult checks inside the window, for spiderlings and cohorts.
    pub close_check_spiderling_days: u32,
    /// The same for juveniles and adults.
    pub close_check_other_days: u32,
    /// Days between checks of a sac that is with its dam.
    pub sac_with_dam_days: u32,
    /// Days after a meal without a rehouse.
    pub rehouse_after_meal_days: u32,
    /// Days between readings of a room's climate.
    pub room_reading_days: u32,
}

impl Default for SiteRules {
    fn default() -> Self {
        Self {
            zone: Tz::UTC,
            agitated_open_hours: 24,
            agitated_hands_in_days: 3,
            refusals_spiderling: 3,
            refusals_juvenile: 4,
            refusals_adult: 6,
            close_check_spiderling_days: 2,
            close_check_other_days: 3,
            sac_with_dam_days: 7,
            rehouse_after_meal_days: 2,
            room_reading_days: 1,
        }
    }
}

impl SiteRules {
    /// The rules of a care profile for a life stage; those that it does not give are the house's.
    pub fn for_stage(&self, care: &Care, life_stage: LifeStage) -> StageRules {
        care.rules.unwrap_or_else(|| {
            let (refusals_check, close_check_days) = match life_stage {
                LifeStage::Spiderling => (self.refusals_spiderling, self.close_check_spiderling_days),
                LifeStage::Juvenile => (self.refusals_juvenile, self.close_check_other_days),
                LifeStage::Adult => (self.refusals_adult, self.close_check_other_days),
            };
            let after_meal_days = self.rehouse_after_meal_days;
            StageRules { refusals_check, close_check_days, after_meal_days, ..StageRules::usual(life_stage, care.feed_min_days) }
        })
    }

    /// How sacs are looked after where their species' care profile does not say.
    pub fn for_sacs(&self) -> SacRules {
        SacRules { with_dam_days: self.sac_with_dam_days, ..SacRules::default() }
    }

    /// The two holds that a threat display sets on this day: opening for hours (counted in whole days, rounded up),
    /// work with hands in for days.
    pub fn agitation_holds(&self, day: NaiveDate, reason: &str) -> [HoldFacts; 2] {
        let hold = |blocks, days: u32| HoldFacts {
            kind: HoldKind::Agitated,
            from: day,
            blocks,
            until: day.checked_add_days(Days::new(days.into())),
            reason: reason.to_owned(),
        };
        [hold(Exposure::Open, self.agitated_open_hours.div_ceil(24)), hold(Exposure::HandsIn, self.agitated_hands_in_days)]
    }
}
