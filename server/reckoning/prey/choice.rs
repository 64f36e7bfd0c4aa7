//! Which prey a spider is usually given: by how long prey may be for a spider of its size.
//!
//! Common practice, no source: for second and third instars prey no longer than the spider's body, pre-killed; for
//! spiderlings of 1.5 to 4 cm up to the length of the abdomen; above that up to the body's length; for mature males small
//! prey. Bodies are seldom measured, so a rule is a share of the leg span that stands for them. It serves to choose prey
//! and is never kept as a length. Each rule is the house's to change.

use serde::{Deserialize, Serialize};

use crate::reckoning::words::LifeStage;

/// Below this leg span (mm) a spiderling's prey is pre-killed.
const SMALL_BELOW_MM: u32 = 15;
/// From this leg span (mm) on prey may be as long as the body.
const LARGER_FROM_MM: u32 = 40;

coded_enum! {
    /// The rule of prey length that a spider falls under.
    SizeClass, "size class" {
        Small = "small", "spiderling below 1.5 cm";
        Sling = "sling", "spiderling of 1.5 to 4 cm";
        Larger = "larger", "from 4 cm on";
        MatureMale = "mature-male", "mature male";
    }
}

/// The rule for one class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PreyRule {
    /// The class.
    pub class: SizeClass,
    /// How long prey may be, in percent of the leg span.
    pub most_percent: u32,
    /// How many are offered at a meal.
    pub each: u32,
    /// Pre-killed or cut: what is refused does not go back to stock.
    pub killed: bool,
}

/// A kind and size of prey, as far as choosing goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PreyKind {
    /// Its number in the book.
    pub id: i64,
    /// Its body length, mm.
    pub length_mm: u32,
    /// Whether it is chosen by default. What is fatty or only for a change is not.
    pub staple: bool,
}

/// The spider that is to eat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Eater {
    /// Its leg span (DLS), mm.
    pub span_mm: Option<u32>,
    /// Its life stage.
    pub life_stage: LifeStage,
    /// A mature male.
    pub mature_male: bool,
}

/// What is usually given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chosen {
    /// The kind.
    pub id: i64,
    /// How many at a meal.
    pub each: u32,
    /// Pre-killed or cut.
    pub killed: bool,
    /// Why, with figures.
    pub why: String,
}

impl Eater {
    /// The leg span to go by, mm: the smallest usual one of the life stage if none was taken, so that prey is not too long.
    fn span(self) -> u32 {
        self.span_mm.unwrap_or(match self.life_stage {
            LifeStage::Spiderling => 10,
            LifeStage::Juvenile => LARGER_FROM_MM,
            LifeStage::Adult => 80,
        })
    }
}

/// The rule that a spider falls under.
pub fn class_of(eater: Eater) -> SizeClass {
    match eater.span() {
        _ if eater.mature_male => SizeClass::MatureMale,
        0..SMALL_BELOW_MM => SizeClass::Small,
        SMALL_BELOW_MM..LARGER_FROM_MM => SizeClass::Sling,
        _ => SizeClass::Larger,
    }
}

/// How long prey may be for a spider, mm, rounded down; at least 1.
pub fn longest_mm(eater: Eater, rule: PreyRule) -> u32 {
    (eater.span().saturating_mul(rule.most_percent) / 100).max(1)
}

/// What a spider is usually given: of the staple kinds the longest that its rule allows, of equally long ones the first
/// by number. None when all are too long, or its class has no rule.
pub fn usual(eater: Eater, rules: &[PreyRule], kinds: &[PreyKind]) -> Option<Chosen> {
    let class = class_of(eater);
    let rule = *rules.iter().find(|rule| rule.class == class)?;
    let most = longest_mm(eater, rule);
    let fits = kinds.iter().filter(|kind| kind.staple && kind.length_mm <= most);
    let kind = fits.max_by_key(|kind| (kind.length_mm, std::cmp::Reverse(kind.id)))?;
    let span = match eater.span_mm {
        Some(span) => format!("leg span {span} mm"),
        None => format!("no leg span taken, so {} mm as the smallest usual", eater.span()),
    };
    let killed = if rule.killed { ", pre-killed" } else { "" };
    let why = format!("{span}: prey up to {most} mm{killed} ({class})");
    Some(Chosen { id: kind.id, each: rule.each, killed: rule.killed, why })
}
