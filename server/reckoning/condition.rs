//! How well fed a spider looks: the width of its abdomen against the width of its carapace.

use serde::{Deserialize, Serialize};

coded_enum! {
    /// How well fed a spider looks, from 1 to 5 (common practice, no source).
    Condition, "condition" {
        Shrunken = "shrunken", "1, shrunken";
        Lean = "lean", "2, lean";
        Good = "good", "3, good";
        Heavy = "heavy", "4, heavy";
        Obese = "obese", "5, obese";
    }
}

/// The score, and the day on which it was given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scored {
    /// The score.
    pub condition: Condition,
    /// The local day.
    pub day: chrono::NaiveDate,
}

impl Condition {
    /// The score of two widths in the same unit; none without a carapace. The abdomen is less than 0.8 carapaces wide
    /// in a shrunken spider, then lean to below 1.1, good to below 1.5, heavy to 2.0, and obese above (common
    /// practice, no source). Whole numbers are compared, so that a limit falls into its own class.
    pub fn of_widths(abdomen: u32, carapace: u32) -> Option<Self> {
        let (tenfold, carapace) = (u64::from(abdomen) * 10, u64::from(carapace));
        if carapace == 0 {
            return None;
        }
        Some(match tenfold {
            width if width < carapace * 8 => Self::Shrunken,
            width if width < carapace * 11 => Self::Lean,
            width if width < carapace * 15 => Self::Good,
            width if width <= carapace * 20 => Self::Heavy,
            _ => Self::Obese,
        })
    }
}
