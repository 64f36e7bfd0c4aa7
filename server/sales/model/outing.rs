//! Outings: days on which stock is taken along to sell, what went out, and what became of it.

use chrono::{DateTime, NaiveDate, Utc};

use super::{Item, Lot};
use crate::house::ids::{AnimalId, CohortId, OutingId, OutingLineId, ShelfId};
use crate::house::text;
use crate::reckoning::outing::Line;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::LossCause;
use crate::text_columns;

coded_enum! {
    /// How far an outing has come.
    OutingState, "state of an outing" {
        Packing = "packing", "being packed";
        Out = "out", "out";
        Reconciled = "reconciled", "back and reconciled";
        Cancelled = "cancelled", "cancelled";
    }
}

text_columns! { OutingState }

/// An outing.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Outing {
    /// Its id.
    pub id: OutingId,
    /// What it is called.
    pub name: String,
    /// Its first day.
    pub day: NaiveDate,
    /// Its last day, when it has several.
    pub last_day: Option<NaiveDate>,
    /// How far it has come.
    pub state: OutingState,
    /// A note for the staff.
    pub note: String,
    /// When it went out.
    pub out_at: Option<DateTime<Utc>>,
    /// Who took it out.
    pub out_by_name: Option<String>,
    /// When it was reconciled.
    pub back_at: Option<DateTime<Utc>>,
    /// Who reconciled it.
    pub back_by_name: Option<String>,
    /// Goes up with every change, so that nobody takes out another list than the one they see.
    pub version: i64,
}

impl Outing {
    /// Its last day.
    #[must_use]
    pub fn last(&self) -> NaiveDate {
        self.last_day.unwrap_or(self.day)
    }

    /// Its day or days in words.
    #[must_use]
    pub fn days(&self) -> String {
        match self.last_day {
            Some(last) if last != self.day => format!("{} to {}", text::day(&self.day), text::day(&last)),
            _ => text::day(&self.day),
        }
    }
}

/// A checked outing.
#[derive(Debug, Clone)]
pub struct NewOuting {
    /// What it is called.
    pub name: String,
    /// Its first day.
    pub day: NaiveDate,
    /// Its last day, when it has several.
    pub last_day: Option<NaiveDate>,
    /// A note; may be empty.
    pub note: String,
}

/// Stock that is reserved for an outing or packed for it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct OutingItem {
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is a number out of one.
    pub cohort_id: Option<CohortId>,
    /// The stage that the number is taken from.
    pub stage: Option<Stage>,
    /// The animal's tag or the cohort's code.
    pub label: String,
    /// Its species' accepted name.
    pub species: String,
    /// Where it stands.
    pub place: Option<String>,
    /// How many are reserved.
    pub reserved: u32,
    /// How many are in the boxes.
    pub packed: u32,
    /// Its hazard band: packing brings hands near.
    #[sqlx(skip)]
    pub band: i64,
}

impl OutingItem {
    /// What it takes along, so many of it.
    #[must_use]
    pub fn item(&self, quantity: u32) -> Option<Item> {
        item(self.animal_id, self.cohort_id, self.stage, quantity)
    }

    /// What it is, in words.
    #[must_use]
    pub fn words(&self) -> String {
        words(&self.label, self.stage)
    }

    /// As forms name it: `a-7`, or `c-3-i2`.
    #[must_use]
    pub fn code(&self) -> String {
        code(self.animal_id, self.cohort_id, self.stage)
    }
}

/// A line of what went out, with what is known of it since.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct OutingLine {
    /// Its id.
    pub id: OutingLineId,
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is a number out of one.
    pub cohort_id: Option<CohortId>,
    /// The stage that the number is taken from.
    pub stage: Option<Stage>,
    /// The animal's tag or the cohort's code.
    pub label: String,
    /// Its species' accepted name.
    pub species: String,
    /// How many went out.
    pub quantity: u32,
    /// How many of them were sold so far.
    pub sold: u32,
    /// Once it is reconciled: how many came back alive.
    pub returned: Option<u32>,
    /// How many died.
    pub dead: Option<u32>,
    /// How many are missing.
    pub missing: Option<u32>,
    /// The cohort in which those that came back are counted.
    pub back_cohort_id: Option<CohortId>,
    /// Its code.
    pub back_code: Option<String>,
}

impl OutingLine {
    /// How many are not sold.
    #[must_use]
    pub fn left(&self) -> u32 {
        self.quantity.saturating_sub(self.sold)
    }

    /// What it is, in words.
    #[must_use]
    pub fn words(&self) -> String {
        words(&self.label, self.stage)
    }

    /// So many of it.
    #[must_use]
    pub fn item(&self, quantity: u32) -> Option<Item> {
        item(self.animal_id, self.cohort_id, self.stage, quantity)
    }

    /// The line as the reckoning takes it, with what was counted.
    #[must_use]
    pub fn counted(&self, back: &Back) -> Line {
        Line {
            label: self.words(),
            out: self.quantity,
            sold: self.sold,
            returned: back.returned,
            dead: back.dead,
            missing: Some(back.missing),
        }
    }

    /// The line as it was reconciled; nothing before that.
    #[must_use]
    pub fn reconciled(&self) -> Option<Line> {
        let back = Back { line: self.id, returned: self.returned?, dead: self.dead?, missing: self.missing? };
        Some(self.counted(&back))
    }
}

/// What was counted of a line at the end of an outing.
#[derive(Debug, Clone, Copy)]
pub struct Back {
    /// The line.
    pub line: OutingLineId,
    /// How many came back alive.
    pub returned: u32,
    /// How many died.
    pub dead: u32,
    /// How many are missing.
    pub missing: u32,
}

/// What is done with what came back.
#[derive(Debug, Clone, Copy)]
pub struct BackHome {
    /// What the dead died of.
    pub cause: LossCause,
    /// The last day on which what came back stands apart.
    pub apart_until: NaiveDate,
    /// The shelf that it goes to; none: where it stood.
    pub shelf: Option<ShelfId>,
}

fn item(animal: Option<AnimalId>, cohort: Option<CohortId>, stage: Option<Stage>, quantity: u32) -> Option<Item> {
    match (animal, cohort, stage) {
        (Some(animal), _, _) => Some(Item::Animal(animal)),
        (None, Some(cohort), Some(stage)) => Some(Item::Lot(Lot { cohort, stage, quantity })),
        _ => None,
    }
}

fn words(label: &str, stage: Option<Stage>) -> String {
    stage.map_or_else(|| format!("tag {label}"), |stage| format!("cohort {label}, {stage}"))
}

fn code(animal: Option<AnimalId>, cohort: Option<CohortId>, stage: Option<Stage>) -> String {
    match (animal, cohort, stage) {
        (Some(animal), _, _) => format!("a-{animal}"),
        (None, Some(cohort), Some(stage)) => format!("c-{cohort}-{}", stage.code()),
        _ => String::new(),
    }
}
