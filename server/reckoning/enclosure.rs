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

/// How an enclosure is measured against a leg span, in tenths of the span; the default is common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BoxRules {
    /// Least inner floor length. 30 is three spans: outgrown when the span is more than a third of the length.
    pub length_tenths: u32,
    /// Least inner floor width.
    pub width_tenths: u32,
    /// Greatest inner floor length for a spiderling, which loses its prey in a larger box.
    pub most_length_tenths: u32,
    /// Greatest gap from substrate to lid for heavy terrestrial species.
    pub fall_gap_tenths: u32,
}

impl Default for BoxRules {
    fn default() -> Self {
        Self { length_tenths: 30, width_tenths: 20, most_length_tenths: 80, fall_gap_tenths: 15 }
    }
}

impl BoxRules {
    /// What an enclosure must measure for a leg span: least lengths rounded up, the gap down.
    pub fn needed(&self, span_mm: u32) -> NeededSize {
        let times = |tenths: u32| u64::from(span_mm) * u64::from(tenths);
        let mm = |tenfold: u64| u32::try_from(tenfold).unwrap_or(u32::MAX);
        NeededSize {
            length_mm: mm(times(self.length_tenths).div_ceil(10)),
            width_mm: mm(times(self.width_tenths).div_ceil(10)),
            fall_gap_mm: mm(times(self.fall_gap_tenths) / 10),
        }
    }

    /// Whether an enclosure is outgrown: shorter than the least length.
    pub fn outgrown(&self, span_mm: u32, length_mm: u32) -> bool {
        u64::from(span_mm) * u64::from(self.length_tenths) > u64::from(length_mm) * 10
    }

    /// Whether a box is so large that a spiderling loses its prey.
    pub fn too_large_for_spiderling(&self, span_mm: u32, length_mm: u32) -> bool {
        u64::from(length_mm) * 10 > u64::from(span_mm) * u64::from(self.most_length_tenths)
    }
}

/// What an enclosure must usually measure for a leg span.
pub fn needed_size(span_mm: u32) -> NeededSize {
    BoxRules::default().needed(span_mm)
}

/// Whether an enclosure is usually outgrown: the span is more than a third of its length.
pub fn rehouse_due(span_mm: u32, length_mm: u32) -> bool {
    BoxRules::default().outgrown(span_mm, length_mm)
}

/// Whether a box is usually so large that a spiderling loses its prey: over 8 × DLS long.
pub fn too_large_for_spiderling(span_mm: u32, length_mm: u32) -> bool {
    BoxRules::default().too_large_for_spiderling(span_mm, length_mm)
}

/// Usual days to settle in a new box before the first feed (least, most).
pub fn settle_days(life_stage: LifeStage) -> (u32, u32) {
    match life_stage {
        LifeStage::Spiderling => (3, 7),
        LifeStage::Juvenile => (5, 10),
        LifeStage::Adult => (7, 14),
    }
}
