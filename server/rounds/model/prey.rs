//! Kinds of prey, the book of what came and went of each, and what a subject is usually given.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};

use crate::animals::model::Offer;
use crate::house::ids::{MemberId, PreyKindId, PreyLineId};
use crate::reckoning::planner::SubjectKey;
use crate::reckoning::prey::{self, Eater, PreyRule, SizeClass};
use crate::rounds::model::Detail;

coded_enum! {
    /// What a line of the book of prey says.
    LineWhat, "kind of line" {
        Delivered = "delivered", "delivered";
        Used = "used", "used at a meal";
        Died = "died", "died off";
        Thrown = "thrown", "thrown away";
        Counted = "counted", "counted";
        Reversed = "reversed", "taken back";
    }
}

crate::text_columns! { LineWhat, SizeClass }

/// A kind and size of prey.
#[derive(Debug, Clone, PartialEq, Eq, sqlx::FromRow)]
pub struct PreyKind {
    /// Its id.
    pub id: PreyKindId,
    /// What it is: cricket, cockroach.
    pub name: String,
    /// Its size in words.
    pub size: String,
    /// Its body length, mm.
    pub length_mm: u32,
    /// How many come in a pack.
    pub per_pack: u32,
    /// Whether it is given by default where its length fits.
    pub staple: bool,
    /// Whether the house uses it.
    pub active: bool,
    /// For changes: the version that was read.
    pub version: i64,
}

impl PreyKind {
    /// As lists name it: `cricket, small (5 mm)`.
    #[must_use]
    pub fn label(&self) -> String {
        format!("{}, {} ({} mm)", self.name, self.size, self.length_mm)
    }
}

/// A kind and size, checked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPreyKind {
    /// What it is.
    pub name: String,
    /// Its size in words.
    pub size: String,
    /// Its body length, mm.
    pub length_mm: u32,
    /// How many come in a pack.
    pub per_pack: u32,
    /// Whether it is given by default where its length fits.
    pub staple: bool,
    /// Whether the house uses it.
    pub active: bool,
}

/// What is on hand of a kind.
#[derive(Debug, Clone, PartialEq, Eq, sqlx::FromRow)]
pub struct Stock {
    /// The kind.
    #[sqlx(flatten)]
    pub kind: PreyKind,
    /// What is on hand by the book. Below zero: more was used than ever came.
    pub quantity: i64,
    /// Whether anything was ever delivered or counted.
    pub kept: bool,
    /// The day of the last count.
    pub counted_on: Option<NaiveDate>,
}

impl Stock {
    /// What there can be on hand: never below zero.
    #[must_use]
    pub fn on_hand(&self) -> u32 {
        u32::try_from(self.quantity.max(0)).unwrap_or(u32::MAX)
    }

    /// What is wrong with the figure, if it can't be right.
    #[must_use]
    pub fn doubt(&self) -> Option<String> {
        match (self.kept, self.quantity) {
            (false, _) => Some("nothing delivered or counted yet: count it once".to_owned()),
            (true, ..0) => Some(format!("{} more used than there were: counted wrong? Count again", -self.quantity)),
            (true, _) => None,
        }
    }
}

/// A line of the book.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct PreyLine {
    /// Its id.
    pub id: PreyLineId,
    /// Its local day.
    pub day: NaiveDate,
    /// What happened.
    pub what: LineWhat,
    /// By how much it changed what was on hand.
    pub quantity: i64,
    /// What was found, for a count.
    pub counted: Option<i64>,
    /// What a delivery cost, in minor units.
    pub cost_minor: Option<i64>,
    /// More about it.
    pub note: String,
    /// What was on hand after it.
    pub after: i64,
    /// Whether a later line took it back.
    pub reversed: bool,
    /// Who entered it.
    pub member_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// The animal or cohort that was fed.
    pub fed: Option<String>,
}

impl PreyLine {
    /// Whether it can be taken back: a delivery or a loss that stands. Meals are taken back where they were entered, and a
    /// count is put right by counting again.
    #[must_use]
    pub fn can_be_reversed(&self) -> bool {
        matches!(self.what, LineWhat::Delivered | LineWhat::Died | LineWhat::Thrown) && !self.reversed
    }
}

/// What a meal takes from the stock of prey.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum FromStock {
    /// What the animal or cohort is usually given.
    #[default]
    Usual,
    /// Another kind of the list.
    Kind(PreyKindId),
    /// Nothing: it came from elsewhere.
    Nothing,
}

impl Detail {
    /// Where the prey that was offered came from, and what else was said of it.
    #[must_use]
    pub fn offered(&self) -> (FromStock, String) {
        match self {
            Self::Prey(prey) => (FromStock::Usual, prey.clone()),
            Self::Offered { from_stock, prey } => (*from_stock, prey.clone()),
            _ => (FromStock::Usual, String::new()),
        }
    }
}

/// Prey that came or was lost, checked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewLine {
    /// The kind.
    pub kind: PreyKindId,
    /// The local day.
    pub day: NaiveDate,
    /// Delivered, died or thrown away.
    pub what: LineWhat,
    /// How many.
    pub quantity: u32,
    /// What a delivery cost, in minor units.
    pub cost_minor: Option<i64>,
    /// More about it.
    pub note: String,
}

/// What one subject is given instead of what the rule says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Own {
    /// The kind.
    pub kind: PreyKindId,
    /// How many at a meal.
    pub each: u32,
    /// Why.
    pub note: String,
}

/// What a subject is usually given, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Usual {
    /// What it takes from stock.
    pub offer: Offer,
    /// The kind in words.
    pub label: String,
    /// Why.
    pub why: String,
}

/// What everybody is usually given: the house's kinds and rules, the subjects' sizes, and what was chosen for single ones.
#[derive(Debug, Clone, Default)]
pub struct UsualBook {
    /// The kinds that the house uses.
    pub kinds: Vec<PreyKind>,
    /// The rules of length.
    pub rules: Vec<PreyRule>,
    /// The size of each subject.
    pub eaters: HashMap<SubjectKey, Eater>,
    /// What was chosen for single ones.
    pub own: HashMap<SubjectKey, Own>,
}

impl UsualBook {
    /// What a subject is usually given: what was chosen for it while the house has that, otherwise by the rule. None where
    /// nothing of the list is small enough, or there is no list.
    #[must_use]
    pub fn of(&self, subject: SubjectKey) -> Option<Usual> {
        let eater = *self.eaters.get(&subject)?;
        let killed = self.rules.iter().any(|rule| rule.class == prey::class_of(eater) && rule.killed);
        let chosen = self.own.get(&subject).and_then(|own| Some((self.kind(own.kind)?, own)));
        if let Some((kind, own)) = chosen {
            let why = if own.note.is_empty() { "chosen for it".to_owned() } else { format!("chosen for it: {}", own.note) };
            return Some(Usual { offer: Offer { kind: kind.id, each: own.each, killed }, label: kind.label(), why });
        }
        let kinds: Vec<prey::PreyKind> =
            self.kinds.iter().map(|kind| prey::PreyKind { id: kind.id.0, length_mm: kind.length_mm, staple: kind.staple }).collect();
        let chosen = prey::usual(eater, &self.rules, &kinds)?;
        let kind = self.kind(PreyKindId(chosen.id))?;
        Some(Usual { offer: Offer { kind: kind.id, each: chosen.each, killed: chosen.killed }, label: kind.label(), why: chosen.why })
    }

    /// What a subject is given when somebody names the kind: as many as usual.
    #[must_use]
    pub fn offer(&self, subject: SubjectKey, kind: PreyKindId) -> Option<Offer> {
        let eater = *self.eaters.get(&subject)?;
        let rule = self.rules.iter().find(|rule| rule.class == prey::class_of(eater));
        let usual = self.of(subject).filter(|usual| usual.offer.kind == kind);
        let each = usual.map_or_else(|| rule.map_or(1, |rule| rule.each), |usual| usual.offer.each);
        self.kind(kind).map(|kind| Offer { kind: kind.id, each, killed: rule.is_some_and(|rule| rule.killed) })
    }

    /// A kind that the house uses.
    #[must_use]
    pub fn kind(&self, id: PreyKindId) -> Option<&PreyKind> {
        self.kinds.iter().find(|kind| kind.id == id && kind.active)
    }
}

/// Prey to prepare today for one person at one rack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PreyToday {
    /// The kind and size in words.
    pub prey: String,
    /// Where: room and rack.
    pub place: String,
    /// Whose feeds they are.
    pub member: Option<MemberId>,
    /// Their name.
    pub person: Option<String>,
    /// How many to prepare.
    pub quantity: u64,
    /// For how many feeds.
    pub feeds: usize,
    /// Pre-killed or cut.
    pub killed: bool,
}
