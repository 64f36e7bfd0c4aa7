//! Buyers: what is known of them, what they were given, and how long that is kept.

use chrono::{DateTime, Months, NaiveDate, TimeDelta, Utc};

use crate::house::ids::{AnimalId, BuyerId, CohortId, HandoverId, OrderId, PaperId};
use crate::reckoning::language::Language;
use crate::reckoning::stage::Stage;

/// Somebody who takes animals away.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Buyer {
    /// Their id.
    pub id: BuyerId,
    /// Their name; of somebody who was erased, their number in words.
    pub name: String,
    /// Telephone or mail.
    pub contact: String,
    /// Where they live.
    pub address: String,
    /// The tag of the language that they read; empty: the house's own.
    pub language: String,
    /// When what was known of them was erased.
    pub erased_at: Option<DateTime<Utc>>,
    /// The day up to which they are kept whatever the house's rule says.
    pub kept_until: Option<NaiveDate>,
    /// Why.
    pub kept_reason: String,
    /// For changes: the version that was read.
    pub version: i64,
}

impl Buyer {
    /// Whether what was known of them was erased.
    #[must_use]
    pub fn is_erased(&self) -> bool {
        self.erased_at.is_some()
    }

    /// The language that they read, if one was said.
    #[must_use]
    pub fn reads(&self) -> Option<Language> {
        self.language.parse().ok()
    }

    /// The last day of a hold that stands on a day.
    #[must_use]
    pub fn held_on(&self, day: NaiveDate) -> Option<NaiveDate> {
        self.kept_until.filter(|until| *until >= day)
    }
}

/// A checked buyer.
#[derive(Debug, Clone)]
pub struct NewBuyer {
    /// Their name.
    pub name: String,
    /// Telephone or mail; may be empty.
    pub contact: String,
    /// Where they live; may be empty.
    pub address: String,
}

/// A buyer as a search finds them.
#[derive(Debug, Clone)]
pub struct FoundBuyer {
    /// The buyer.
    pub buyer: Buyer,
    /// What they were found by, in words: `name`, `paper S-2026-0007`.
    pub by: String,
}

/// One line of what a buyer was handed over.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Bought {
    /// The handover.
    pub handover_id: HandoverId,
    /// Its day.
    pub day: NaiveDate,
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is a number out of one.
    pub cohort_id: Option<CohortId>,
    /// The stage that the number was taken from.
    pub stage: Option<Stage>,
    /// How many.
    pub quantity: u32,
    /// The animal's tag or the cohort's code.
    pub label: String,
    /// The species' accepted name.
    pub species: String,
    /// The care sheet.
    pub paper_id: Option<PaperId>,
    /// Its number.
    pub paper: Option<String>,
    /// How many of them came back.
    pub came_back: u32,
}

impl Bought {
    /// What it was, in words.
    #[must_use]
    pub fn words(&self) -> String {
        match self.stage {
            Some(stage) => format!("{} out of cohort {}, {stage}", self.quantity, self.label),
            None => format!("tag {}", self.label),
        }
    }

    /// Whether they have it still, in words.
    #[must_use]
    pub fn since(&self) -> String {
        match self.came_back {
            0 => "with them".to_owned(),
            all if all >= self.quantity => "came back".to_owned(),
            some => format!("{some} came back"),
        }
    }
}

/// An order as a buyer's page lists it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct OrderLine {
    /// The order.
    pub id: OrderId,
    /// How far it has come, by its code.
    pub state: String,
    /// The day it was made.
    pub created_at: DateTime<Utc>,
    /// The day it is wanted for.
    pub wanted_on: Option<NaiveDate>,
}

/// What stands against erasing a buyer now; all empty when nothing does.
#[derive(Debug, Clone, Default)]
pub struct Unfinished {
    /// Orders that are open.
    pub orders: Vec<OrderId>,
    /// Handovers that are being made ready.
    pub drafts: Vec<HandoverId>,
    /// The last day of a hold that stands.
    pub held_until: Option<NaiveDate>,
}

impl Unfinished {
    /// What to do first, a sentence each.
    #[must_use]
    pub fn sentences(&self) -> Vec<String> {
        let orders = self.orders.iter().map(|id| format!("Order {id} is open: hand it over or cancel it first."));
        let drafts = self.drafts.iter().map(|id| format!("Handover {id} is being made ready: finish or cancel it first."));
        let held = self.held_until.map(|day| {
            format!(
                "They are kept until {} for a reason that an owner wrote down: an owner ends that first.",
                crate::house::text::day(&day)
            )
        });
        orders.chain(drafts).chain(held).collect()
    }
}

/// The house's rule of erasing buyers by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rule {
    /// How many months after the last dealing; 0: never.
    pub months: u32,
    /// The day since which it holds; none until it was looked at for the first time.
    pub since: Option<NaiveDate>,
}

/// A new or changed rule erases nobody in its first days, so that the owners see the list before it acts.
pub const FIRST_DAYS: i64 = 30;

impl Rule {
    /// The day on which somebody is erased whose last dealing was on a day; none: never.
    #[must_use]
    pub fn erases_on(&self, last_dealing: NaiveDate) -> Option<NaiveDate> {
        if self.months == 0 {
            return None;
        }
        let by_rule = last_dealing.checked_add_months(Months::new(self.months))?;
        Some(by_rule.max(self.since? + TimeDelta::days(FIRST_DAYS)))
    }
}

/// A buyer with the day of their last dealing.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Dealing {
    /// The buyer.
    pub id: BuyerId,
    /// Their name.
    pub name: String,
    /// The day of their last dealing.
    pub last_on: NaiveDate,
    /// The last day of a hold.
    pub kept_until: Option<NaiveDate>,
    /// Whether an order is open or a handover is being made ready.
    pub busy: bool,
}

/// Somebody whom the rule erases soon.
#[derive(Debug, Clone)]
pub struct Coming {
    /// Who.
    pub dealing: Dealing,
    /// The day by the rule.
    pub on: NaiveDate,
}

impl Coming {
    /// What puts it off, in words; nothing when nothing does.
    #[must_use]
    pub fn put_off(&self) -> Option<String> {
        if let Some(until) = self.dealing.kept_until.filter(|until| *until >= self.on) {
            return Some(format!("kept until {}", crate::house::text::day(&until)));
        }
        self.dealing.busy.then(|| "an order or a handover is not finished".to_owned())
    }
}
