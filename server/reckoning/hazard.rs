//! How much care an animal's enclosure asks for: a band 0 to 3 with its reasons, and what each band requires of people.
//!
//! The venom classes follow the cramp rates in 363 published bites (Hauke & Herzig 2021). The bands, the setae and
//! size rules and the table of requirements are this house's classification: common practice, no source. They are
//! not clinical grades.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::rows;
use super::words::{Exposure, LifeStage, Setae, Venom};

/// Adults of this leg span (mm) and more have fangs large enough for a deep wound (common practice, no source).
pub const LARGE_FANGS_FROM_MM: u32 = 200;

/// A hazard band, 0 to 3.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "u8", try_from = "u8")]
pub struct Band(u8);

impl Band {
    /// Every band, lowest first.
    pub const ALL: [Self; 4] = [Self(0), Self(1), Self(2), Self(3)];
    /// The lowest band.
    pub const NONE: Self = Self(0);

    /// The band of a level 0 to 3; nothing for any other level.
    pub fn new(level: u8) -> Option<Self> {
        (level <= 3).then_some(Self(level))
    }

    /// The level, 0 to 3.
    pub fn level(self) -> u8 {
        self.0
    }

    /// The band of a level as it is stored or sent. One that is no level counts as the highest, so that a mistake errs to caution.
    pub fn at(level: i64) -> Self {
        u8::try_from(level).ok().and_then(Self::new).unwrap_or(Self(3))
    }

    /// A mark that tells the band by its shape, beside its word and number.
    pub fn mark(self) -> &'static str {
        match self.0 {
            0 => "○",
            1 => "◔",
            2 => "◆",
            _ => "▲",
        }
    }

    /// The band in plain words: the one source of them.
    pub fn word(self) -> &'static str {
        match self.0 {
            0 => "ordinary care",
            1 => "take care",
            2 => "risky",
            _ => "dangerous",
        }
    }
}

impl TryFrom<u8> for Band {
    type Error = String;
    fn try_from(level: u8) -> Result<Self, Self::Error> {
        Self::new(level).ok_or_else(|| format!("{level} is not a hazard band; bands run from 0 to 3"))
    }
}

impl From<Band> for u8 {
    fn from(band: Band) -> Self {
        band.0
    }
}

impl fmt::Display for Band {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.0, self.word())
    }
}

/// A caution about one individual, entered by staff.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IndividualCaution {
    /// The band that it raises the animal to; it never lowers.
    pub level: Band,
    /// What was seen, in the words of whoever saw it.
    pub text: String,
}

/// What is known of a species and an individual that bears on people's safety.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HazardFacts {
    /// Venom concern of the species.
    pub venom: Venom,
    /// Urticating setae of the species. Not implied by its being from the New World.
    pub setae: Setae,
    /// Whether the species tends to stand its ground and strike.
    pub defensive: bool,
    /// Whether the species is very fast.
    pub very_fast: bool,
    /// The largest usual adult leg span of the species, mm.
    pub adult_span_max_mm: u32,
    /// The life stage of this animal, or of the cohort.
    pub life_stage: LifeStage,
    /// Cautions about this individual.
    #[serde(default, deserialize_with = "rows::read")]
    pub cautions: Vec<IndividualCaution>,
}

/// A hazard band with its reasons.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hazard {
    /// The band.
    pub band: Band,
    /// Why, in plain words; never empty.
    pub reasons: Vec<String>,
}

/// The hazard band of an animal or cohort, with reasons.
///
/// Significant venom is band 3 and moderate venom band 2 at every life stage. With mild venom, setae, large fangs,
/// or being both defensive and very fast give band 1 from juvenile on; spiderlings are band 0. An individual caution
/// raises the band to its level and never lowers it.
pub fn assess(facts: &HazardFacts) -> Hazard {
    let mut reasons = Vec::new();
    let mut band = match facts.venom {
        Venom::Significant => {
            reasons.push("medically significant venom, at every life stage".to_owned());
            Band(3)
        }
        Venom::Moderate => {
            reasons.push("moderate venom concern, at every life stage".to_owned());
            Band(2)
        }
        Venom::Mild => mild_band(facts, &mut reasons),
    };
    for caution in &facts.cautions {
        let raised = if caution.level > band { "raised by" } else { "also" };
        reasons.push(format!("{raised} a caution on this animal: {}", caution.text));
        band = band.max(caution.level);
    }
    Hazard { band, reasons }
}

fn mild_band(facts: &HazardFacts, reasons: &mut Vec<String>) -> Band {
    if facts.life_stage == LifeStage::Spiderling {
        reasons.push("mild venom concern, spiderling".to_owned());
        return Band(0);
    }
    if facts.setae != Setae::None {
        reasons.push(format!("urticating setae {}", facts.setae));
    }
    if facts.adult_span_max_mm >= LARGE_FANGS_FROM_MM {
        reasons.push(format!("large fangs: adults reach {} mm leg span", facts.adult_span_max_mm));
    }
    if facts.very_fast && facts.defensive {
        reasons.push("very fast and defensive".to_owned());
    }
    if reasons.is_empty() {
        reasons.push("mild venom concern, no setae, not both fast and defensive".to_owned());
        return Band(0);
    }
    Band(1)
}

/// What a duty requires of people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Requirement {
    /// The clearance that at least one of them must hold, 0 to 3.
    pub clearance: u8,
    /// How many different people, 1 or 2.
    pub persons: u8,
}

/// Why a requirement was not accepted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    /// Looser than the default.
    #[error(
        "band {band}, {exposure}: needs at least clearance {clearance} and {persons} person(s); a house may tighten this, not loosen it"
    )]
    Looser {
        /// The band asked about.
        band: u8,
        /// The exposure asked about.
        exposure: Exposure,
        /// The least clearance.
        clearance: u8,
        /// The fewest persons.
        persons: u8,
    },
    /// Outside what the table can hold.
    #[error("clearance runs from 0 to 3, and persons from 1 to 2")]
    OutOfRange,
}

/// For each band and exposure, what is required. A house may tighten it, never loosen it below the default.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ExposureTable {
    tightened: Vec<(Band, Exposure, Requirement)>,
}

impl ExposureTable {
    /// The default requirement: clearance equals the band with hands in, one less than that with the lid open in
    /// bands 2 and 3, none for looking; two people with hands in at band 3 (common practice, no source).
    pub fn default_requirement(band: Band, exposure: Exposure) -> Requirement {
        let clearance = match (band.level(), exposure) {
            (_, Exposure::Look) => 0,
            (level, Exposure::HandsIn) => level,
            (0, Exposure::Open) => 0,
            (1 | 2, Exposure::Open) => 1,
            (_, Exposure::Open) => 2,
        };
        let persons = if band.level() == 3 && exposure == Exposure::HandsIn { 2 } else { 1 };
        Requirement { clearance, persons }
    }

    /// What this house requires.
    pub fn required(&self, band: Band, exposure: Exposure) -> Requirement {
        self.tightened
            .iter()
            .find(|(at, near, _)| *at == band && *near == exposure)
            .map_or_else(|| Self::default_requirement(band, exposure), |(_, _, requirement)| *requirement)
    }

    /// Sets a stricter requirement.
    ///
    /// # Errors
    /// Anything looser than the default, or out of range, is refused and changes nothing.
    pub fn tighten(&mut self, band: Band, exposure: Exposure, requirement: Requirement) -> Result<(), TableError> {
        if requirement.clearance > 3 || !(1..=2).contains(&requirement.persons) {
            return Err(TableError::OutOfRange);
        }
        let least = Self::default_requirement(band, exposure);
        if requirement.clearance < least.clearance || requirement.persons < least.persons {
            let Requirement { clearance, persons } = least;
            return Err(TableError::Looser { band: band.level(), exposure, clearance, persons });
        }
        self.tightened.retain(|(at, near, _)| (*at, *near) != (band, exposure));
        self.tightened.push((band, exposure, requirement));
        Ok(())
    }
}

/// The tools to have at hand before a rehouse (common practice, no source).
pub fn rehouse_checklist(facts: &HazardFacts) -> Vec<&'static str> {
    let band = assess(facts).band.level();
    let mut tools = vec!["soft brush", "catch cup with lid", "new enclosure ready and open"];
    if !matches!(facts.setae, Setae::None) {
        tools.push("goggles, gloves and long sleeves against setae");
    }
    if matches!(facts.setae, Setae::Severe | Setae::Palps) {
        tools.push("face cover against setae");
    }
    if band >= 2 {
        tools.push("long forceps, 25 to 30 cm");
        tools.push("work inside a larger tub; no bare hand in either box");
        tools.push("someone within call");
    }
    if band >= 3 {
        tools.push("second person in the room and briefed");
        tools.push("door shut and its gap sealed");
        tools.push("telephone at hand");
    }
    tools
}

/// What a person must know before opening, one line each.
pub fn cautions_text(facts: &HazardFacts) -> Vec<String> {
    let mut lines: Vec<String> = facts.cautions.iter().map(|caution| caution.text.clone()).collect();
    match facts.venom {
        Venom::Significant => lines.push("Medically significant venom: cramps may come hours after a bite.".to_owned()),
        Venom::Moderate => lines.push("Moderate venom concern: no bare hand inside.".to_owned()),
        Venom::Mild => {}
    }
    match facts.setae {
        Setae::None => {}
        Setae::Severe => lines.push("Kicks severe urticating setae: goggles and covered skin.".to_owned()),
        Setae::Palps => lines.push("Urticating setae on the palps: keep hands and tools out of reach.".to_owned()),
        other => lines.push(format!("Urticating setae {other}: keep them off skin and out of eyes.")),
    }
    match (facts.defensive, facts.very_fast) {
        (true, true) => lines.push("Defensive and very fast.".to_owned()),
        (true, false) => lines.push("Defensive: stop at a threat posture and close.".to_owned()),
        (false, true) => lines.push("Very fast.".to_owned()),
        (false, false) => {}
    }
    if facts.adult_span_max_mm >= LARGE_FANGS_FROM_MM && facts.life_stage != LifeStage::Spiderling {
        lines.push("Large fangs.".to_owned());
    }
    lines
}
