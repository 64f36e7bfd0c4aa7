//! The size of an enclosure, when it is outgrown, and how long a spider settles in a new one.
//! All figures are common practice, no source. Lengths in mm, spans are leg spans (DLS).

use serde::{Deserialize, Serialize};

use super::words::{Habit, LifeStage};

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

/// The inner measures of a box that an animal is to move into.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NewBox {
    /// Floor length.
    pub length_mm: u32,
    /// Floor width, if somebody took it.
    pub width_mm: Option<u32>,
    /// Gap from substrate to lid, if somebody took it.
    pub fall_gap_mm: Option<u32>,
}

/// Who is to move in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Occupant {
    /// Leg span.
    pub span_mm: u32,
    /// Life stage.
    pub life_stage: LifeStage,
    /// How the species lives.
    pub habit: Habit,
}

impl Occupant {
    /// Whether a fall can rupture its abdomen: terrestrial, and no longer a light spiderling.
    pub fn fears_falls(self) -> bool {
        self.habit == Habit::Terrestrial && self.life_stage != LifeStage::Spiderling
    }
}

/// Which measure a remark is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Floor length.
    Length,
    /// Floor width.
    Width,
    /// Gap from substrate to lid.
    FallGap,
}

/// A remark on one measure, as a sentence with its figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SizeRemark {
    /// Which.
    pub measure: Measure,
    /// What is wrong.
    pub says: String,
}

/// What the rules of size say of a new box.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SizeCheck {
    /// What can't be: missing measures, and a box that the animal does not fit into.
    pub impossible: Vec<SizeRemark>,
    /// Rules that it breaks, which somebody may have a reason for.
    pub broken: Vec<SizeRemark>,
}

/// Holds a new box against the rules of size: length 3 × DLS and width 2 × DLS at the least, for spiderlings no more than
/// 8 × DLS long, and for heavy terrestrial animals a gap of 1.5 × DLS at the most.
pub fn check_size(new: &NewBox, occupant: Occupant) -> SizeCheck {
    let mut check = SizeCheck::default();
    let span = occupant.span_mm;
    let needed = needed_size(span);
    length(&mut check, new, occupant, &needed);
    match new.width_mm {
        None => {
            check.refuse(Measure::Width, format!("Enter the inner width: {} mm at the least for a span of {span} mm.", needed.width_mm))
        }
        Some(width) if width > new.length_mm => {
            check.refuse(Measure::Width, format!("{width} mm wide is more than {} mm long. The longer side is the length.", new.length_mm));
        }
        Some(width) if width < needed.width_mm => {
            check.breaks(Measure::Width, format!("{width} mm wide; a span of {span} mm wants {} mm (twice the span).", needed.width_mm));
        }
        Some(_) => {}
    }
    match new.fall_gap_mm {
        _ if !occupant.fears_falls() => {}
        None => check.refuse(
            Measure::FallGap,
            format!("Enter the gap from substrate to lid: {} mm at the most, or a fall can rupture its abdomen.", needed.fall_gap_mm),
        ),
        Some(gap) if gap > needed.fall_gap_mm => check.breaks(
            Measure::FallGap,
            format!(
                "{gap} mm from substrate to lid; {} mm at the most (1.5 times the span), or a fall can rupture its abdomen.",
                needed.fall_gap_mm
            ),
        ),
        Some(_) => {}
    }
    check
}

fn length(check: &mut SizeCheck, new: &NewBox, occupant: Occupant, needed: &NeededSize) {
    let (span, length) = (occupant.span_mm, new.length_mm);
    if length < span {
        check.refuse(Measure::Length, format!("{length} mm long: an animal of {span} mm does not fit."));
    } else if rehouse_due(span, length) {
        check.breaks(
            Measure::Length,
            format!("{length} mm long; a span of {span} mm wants {} mm (three times the span).", needed.length_mm),
        );
    } else if occupant.life_stage == LifeStage::Spiderling && too_large_for_spiderling(span, length) {
        let most = span.saturating_mul(8);
        check.breaks(
            Measure::Length,
            format!("{length} mm long; a spiderling of {span} mm loses its prey in more than {most} mm (8 times the span)."),
        );
    }
}

impl SizeCheck {
    fn refuse(&mut self, measure: Measure, says: String) {
        self.impossible.push(SizeRemark { measure, says });
    }

    fn breaks(&mut self, measure: Measure, says: String) {
        self.broken.push(SizeRemark { measure, says });
    }
}
