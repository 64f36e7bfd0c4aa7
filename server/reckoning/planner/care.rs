//! The numbers of a care profile that duties are planned by. Every default is common practice, no source.

use serde::{Deserialize, Serialize};

use crate::reckoning::enclosure::{BoxRules, settle_days};
use crate::reckoning::moult::{Fast, FastClass, fast_in, span_or_largest};
use crate::reckoning::rows;
use crate::reckoning::words::LifeStage;

/// A care profile's numbers for one life stage. Days unless stated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Care {
    /// Least days between meals: a feed falls due.
    pub feed_min_days: u32,
    /// Most days between meals: a feed is late.
    pub feed_max_days: u32,
    /// Hours that live prey may stay in (24 by common practice).
    pub uneaten_hours: u32,
    /// Least days from one moult to the next.
    pub moult_min_days: u32,
    /// Most days from one moult to the next.
    pub moult_max_days: u32,
    /// Days between moult checks outside the moult window.
    pub moult_check_days: u32,
    /// Days between waterings.
    pub water_days: u32,
    /// Days between spot cleans.
    pub clean_days: u32,
    /// Days between cohort counts (30 by common practice).
    pub count_days: u32,
    /// The finer rules of the life stage; the usual ones without them.
    #[serde(default)]
    pub rules: Option<StageRules>,
    /// The post-moult fast by size; the usual classes when empty.
    #[serde(default, deserialize_with = "rows::read")]
    pub fast: Vec<FastClass>,
}

impl Care {
    /// The finer rules of a life stage: the profile's own, or the usual ones.
    pub fn rules(&self, life_stage: LifeStage) -> StageRules {
        self.rules.unwrap_or_else(|| StageRules::usual(life_stage, self.feed_min_days))
    }

    /// The post-moult fast at a leg span (DLS, mm); without one, that of the largest usual one of the life stage.
    pub fn fast_of(&self, span_mm: Option<u32>, life_stage: LifeStage) -> Fast {
        fast_in(&self.fast, span_or_largest(span_mm, life_stage))
    }
}

/// The finer rules of one life stage. Days unless stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StageRules {
    /// After a refusal, prey is offered again.
    pub retry_days: u32,
    /// Refusals in a row that raise a moult check.
    pub refusals_check: u32,
    /// Between moult checks in pre-moult, inside the moult window and after refusals.
    pub close_check_days: u32,
    /// A moult that is later than this many tenths of the longest usual interval asks for a close look.
    pub look_after_tenths: u32,
    /// Least days in a new box before the first feed.
    pub settle_min_days: u32,
    /// Most days in a new box before the first feed.
    pub settle_max_days: u32,
    /// After a meal without a rehouse.
    pub after_meal_days: u32,
    /// After a moult without a rehouse; the longer end of the fast when nothing is given.
    pub after_moult_days: Option<u32>,
    /// Feeds of an obese animal are skipped for so long, or until a lower score.
    pub obese_skip_days: u32,
    /// How its enclosure is measured.
    #[serde(default)]
    pub boxes: BoxRules,
}

impl StageRules {
    /// The usual rules of a life stage whose meals fall due after so many days.
    pub fn usual(life_stage: LifeStage, feed_min_days: u32) -> Self {
        let (refusals_check, close_check_days, obese_skip_days) = match life_stage {
            LifeStage::Spiderling => (3, 2, 7),
            LifeStage::Juvenile => (4, 3, 14),
            LifeStage::Adult => (6, 3, 30),
        };
        let (settle_min_days, settle_max_days) = settle_days(life_stage);
        Self {
            retry_days: feed_min_days.div_ceil(2).max(2),
            refusals_check,
            close_check_days,
            look_after_tenths: 15,
            settle_min_days,
            settle_max_days,
            after_meal_days: 2,
            after_moult_days: None,
            obese_skip_days,
            boxes: BoxRules::default(),
        }
    }
}

/// How a species' sacs are looked after.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SacRules {
    /// Days between checks of a pulled sac.
    pub pulled_days: u32,
    /// Days between checks of a sac that is with its dam.
    pub with_dam_days: u32,
    /// How often a day a pulled sac is turned until legs are out; 0 for never.
    pub turns: u32,
}

impl Default for SacRules {
    fn default() -> Self {
        Self { pulled_days: 1, with_dam_days: 7, turns: 3 }
    }
}
