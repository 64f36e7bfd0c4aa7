//! The finer rules of a care profile, as its tables have them.

use serde::{Deserialize, Serialize};

use crate::reckoning::breeding::incubation::IncubationRules;
use crate::reckoning::enclosure::BoxRules;
use crate::reckoning::moult::{FastClass, USUAL_FASTS};
use crate::reckoning::planner::{SacRules, StageRules};

/// The columns of a life stage that hold its finer rules.
#[derive(Debug, sqlx::FromRow)]
pub struct RulesRow {
    retry_days: u32,
    refusals_check: u32,
    close_check_days: u32,
    look_after_tenths: u32,
    settle_min_days: u32,
    settle_max_days: u32,
    after_meal_days: u32,
    after_moult_days: Option<u32>,
    obese_skip_days: u32,
    length_tenths: u32,
    width_tenths: u32,
    most_length_tenths: u32,
    fall_gap_tenths: u32,
}

impl From<RulesRow> for StageRules {
    fn from(row: RulesRow) -> Self {
        Self {
            retry_days: row.retry_days,
            refusals_check: row.refusals_check,
            close_check_days: row.close_check_days,
            look_after_tenths: row.look_after_tenths,
            settle_min_days: row.settle_min_days,
            settle_max_days: row.settle_max_days,
            after_meal_days: row.after_meal_days,
            after_moult_days: row.after_moult_days,
            obese_skip_days: row.obese_skip_days,
            boxes: BoxRules {
                length_tenths: row.length_tenths,
                width_tenths: row.width_tenths,
                most_length_tenths: row.most_length_tenths,
                fall_gap_tenths: row.fall_gap_tenths,
            },
        }
    }
}

/// The rules of a profile that hold for the whole species. Every figure is a default that the house may change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SpeciesRules {
    /// Hours that a threat display holds opening; the house's without it.
    pub threat_open_hours: Option<u32>,
    /// Days that a threat display holds work with hands in; the house's without it.
    pub threat_hands_in_days: Option<u32>,
    /// How its sacs are looked after.
    pub sacs: SacRules,
    /// How long until a sac, and how warm it is kept.
    pub incubation: IncubationRules,
    /// Days without food after a moult, by leg span.
    pub fast: Vec<FastClass>,
}

impl Default for SpeciesRules {
    fn default() -> Self {
        Self {
            threat_open_hours: None,
            threat_hands_in_days: None,
            sacs: SacRules::default(),
            incubation: IncubationRules::default(),
            fast: USUAL_FASTS.to_vec(),
        }
    }
}

/// The columns of a revision that hold its rules for the whole species.
#[derive(Debug, sqlx::FromRow)]
pub struct SpeciesRulesRow {
    threat_open_hours: Option<u32>,
    threat_hands_in_days: Option<u32>,
    sac_pulled_days: u32,
    sac_with_dam_days: u32,
    sac_turns: u32,
    sac_after_from: Option<u32>,
    sac_after_to: Option<u32>,
    incubate_min_c: Option<u32>,
    incubate_max_c: Option<u32>,
    incubate_risky_c: Option<u32>,
}

impl SpeciesRulesRow {
    /// With the classes of the fast, which have a table of their own.
    #[must_use]
    pub fn with(self, fast: Vec<FastClass>) -> SpeciesRules {
        SpeciesRules {
            threat_open_hours: self.threat_open_hours,
            threat_hands_in_days: self.threat_hands_in_days,
            sacs: SacRules { pulled_days: self.sac_pulled_days, with_dam_days: self.sac_with_dam_days, turns: self.sac_turns },
            incubation: IncubationRules {
                sac_after: self.sac_after_from.zip(self.sac_after_to),
                min_c: self.incubate_min_c,
                max_c: self.incubate_max_c,
                risky_c: self.incubate_risky_c,
            },
            fast,
        }
    }
}
