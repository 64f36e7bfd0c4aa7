//! Counts that are made twice: whether two of them agree, and which one is taken.
//!
//! Common practice, no source: two counts at the opening of a sac and at separation; a difference of over 2 % or of over
//! 3 animals means a recount.

use serde::{Deserialize, Serialize};

/// The most animals by which two counts that agree may differ.
pub const MOST_ANIMALS: u32 = 3;
/// The most by which they may differ, in hundredths of the larger.
pub const MOST_PERCENT: u32 = 2;

/// What is done in words, for pages.
pub const RULE: &str = "Count twice. When the two differ by over 2 % or by over 3, count again (common practice, no source).";

/// Two counts, and a third where the first two did not agree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tally {
    /// The first count.
    pub first: u32,
    /// The second.
    pub second: u32,
    /// The third, if there was one.
    pub third: Option<u32>,
}

/// What becomes of a tally.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "outcome", rename_all = "kebab-case")]
pub enum Settled {
    /// The last count agrees with one before it, and is taken.
    Accepted {
        /// The last count.
        count: u32,
        /// By how much it differs from the nearest one that it agrees with.
        difference: u32,
    },
    /// No two agree that could: it is counted again.
    CountAgain {
        /// The smallest difference of the last count from one before it.
        difference: u32,
    },
}

/// Whether two counts agree: they differ by at most 3 animals and by at most 2 % of the larger. Whole numbers are compared,
/// so that exactly 2 % still agrees.
#[must_use]
pub fn agree(one: u32, other: u32) -> bool {
    let difference = one.abs_diff(other);
    difference <= MOST_ANIMALS && u64::from(difference) * 100 <= u64::from(MOST_PERCENT) * u64::from(one.max(other))
}

impl Tally {
    /// Which count is taken: the last, when it agrees with one before it. Counting goes on until two agree, and whoever counts
    /// last has the spiderlings where they are now; so it is the later of the two that stands.
    #[must_use]
    pub fn settled(self) -> Settled {
        let (last, before) = match self.third {
            None => (self.second, vec![self.first]),
            Some(third) => (third, vec![self.second, self.first]),
        };
        let least = before.iter().map(|count| count.abs_diff(last)).min().unwrap_or(0);
        let agreeing = before.iter().filter(|count| agree(**count, last)).map(|count| count.abs_diff(last)).min();
        match agreeing {
            Some(difference) => Settled::Accepted { count: last, difference },
            None => Settled::CountAgain { difference: least },
        }
    }

    /// What to ask of whoever counted, when no two agree.
    #[must_use]
    pub fn ask(self) -> Option<String> {
        let Settled::CountAgain { difference } = self.settled() else { return None };
        Some(match self.third {
            None => format!(
                "The two counts differ by {difference} ({} and {}): over 2 % or over 3. Count a third time and enter it.",
                self.first, self.second
            ),
            Some(third) => format!(
                "The third count, {third}, agrees with neither {} nor {}. Count again until two counts agree, and enter the last three.",
                self.first, self.second
            ),
        })
    }
}
