//! The size of an enclosure, when it is outgrown, and how long a spider settles in a new one.
//! All figures are common practice, no source. Lengths in mm, spans are leg spans (DLS).

use serde::{Deserialize, Serialize};

use super::words::LifeStage;

/// What an enclosure must measure for a leg span.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct NeededSize {
    /// Least inner floor length: 3 × DLS.
    pub length_mm: u32,
    /// Least inner floor width: 2 × DLS.
    pub width_mm: u32,
    /// Greatest gap from substrate to lid for heavy terrestrial species: 1.5 × DLS, rounded down. A fall can rupture
    /// the abdomen.
    pub fall_gap_mm: u32,
}

/// What an enclosure must measure for a leg span.
pub fn needed_size(span_mm: u32) -> NeededSize {
    NeededSize {
        length_mm: span_mm.saturating_mul(3),
        width_mm: span_mm.saturating_mul(2),
        fall_gap_mm: span_mm.saturating_add(span_mm / 2),
    }
}

/// Whether an enclosure is outgrown: the span is more than a third of its length.
pub fn rehouse_due(span_mm: u32, length_mm: u32) -> bool {
    u64::from(span_mm) * 3 > u64::from(length_mm)
}

/// Whether a box is so large that a spiderling loses its prey: over 8 × DLS long.
pub fn too_large_for_spiderling(span_mm: u32, length_mm: u32) -> bool {
    u64::from(length_mm) > u64::from(span_mm) * 8
}

/// Days to settle in a new box before the first feed (least, most).
pub fn settle_days(life_stage: LifeStage) -> (u32, u32) {
    match life_stage {
        LifeStage::Spiderling => (3, 7),
        LifeStage::Juvenile => (5, 10),
        LifeStage::Adult => (7, 14),
    }
}
