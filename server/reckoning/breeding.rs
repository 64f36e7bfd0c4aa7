//! Sacs and pairings: when to pull a sac, what to expect of it when, and whose young they are.

use serde::{Deserialize, Serialize};

/// When a sac is meant to be taken from the dam, in days after laying.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct PullWindow {
    /// The first day.
    pub from_day: u32,
    /// The last day.
    pub to_day: u32,
}
