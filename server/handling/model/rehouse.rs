//! Rehouses that are due, the people and times that are reserved for them, and the lines of the list before one.

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{AnimalId, ChecklistLineId, DutyId, MemberId, RehousePlanId};
use crate::house::text;
use crate::reckoning::hazard::Requirement;
use crate::reckoning::together::Span;
use crate::staff::model::rota::clock;

coded_enum! {
    /// How a planned rehouse ended.
    PlanEnd, "end of a plan" {
        Done = "done", "done";
        BrokenOff = "broken-off", "the rehouse did not come about";
        NoLongerDue = "no-longer-due", "the rehouse is no longer due";
        Clearance = "clearance", "one of the two is no longer cleared for it";
        GivenAway = "given-away", "the duty went to somebody else";
        AsksMore = "asks-more", "it takes two people now";
        Cancelled = "cancelled", "cancelled";
        Passed = "passed", "its time passed";
    }
}

crate::text_columns! { PlanEnd }

/// An open rehouse, for the board.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct RehouseDuty {
    /// The duty.
    pub id: DutyId,
    /// The animal.
    pub animal_id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// Its species.
    pub species: String,
    /// Where it stands.
    pub place: Option<String>,
    /// Its last leg span, mm.
    pub span_mm: Option<i64>,
    /// Inner length of its enclosure, mm.
    pub length_mm: Option<i64>,
    /// Inner width of its enclosure, mm.
    pub width_mm: Option<i64>,
    /// The local day it fell due.
    pub due_on: NaiveDate,
    /// The last local day on which it is not late.
    pub late_after: NaiveDate,
    /// How long it takes each person, in seconds.
    pub seconds: i64,
    /// The band.
    pub band: i64,
    /// The clearance that it asks.
    pub clearance: i64,
    /// How many people.
    pub persons: i64,
    /// Why it is due.
    pub reason: String,
    /// Why it must wait.
    pub held: Option<String>,
    /// Whose it is.
    pub assigned_name: Option<String>,
}

impl RehouseDuty {
    /// What it asks of people.
    #[must_use]
    pub fn asked(&self) -> Requirement {
        let small = |number: i64| u8::try_from(number).unwrap_or(u8::MAX);
        Requirement { clearance: small(self.clearance), persons: small(self.persons) }
    }

    /// Whether it is late on a day.
    #[must_use]
    pub fn is_late(&self, today: &NaiveDate) -> bool {
        self.late_after < *today
    }

    /// Whether it takes a second person.
    #[must_use]
    pub fn takes_two(&self) -> bool {
        self.persons >= 2
    }

    /// Minutes to reserve for it: its time of work in whole quarters of an hour, a quarter at the least.
    #[must_use]
    pub fn minutes(&self) -> u32 {
        let quarters = u32::try_from(self.seconds).unwrap_or(0).div_ceil(900).max(1);
        quarters.saturating_mul(15).min(480)
    }

    /// Its span and its enclosure in words: `span 60 mm, box 120 × 80 mm`.
    #[must_use]
    pub fn sizes(&self) -> String {
        let span = self.span_mm.map_or_else(|| "span not measured".to_owned(), |span| format!("span {span} mm"));
        let size = match (self.length_mm, self.width_mm) {
            (Some(length), Some(width)) => format!("box {length} × {width} mm"),
            (Some(length), None) => format!("box {length} mm long"),
            (None, _) => "box not measured".to_owned(),
        };
        format!("{span}, {size}")
    }
}

/// A planned rehouse: who and when.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct RehousePlan {
    /// Its id.
    pub id: RehousePlanId,
    /// The duty.
    pub duty_id: DutyId,
    /// The animal.
    pub animal_id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// Its species.
    pub species: String,
    /// Where it stands.
    pub place: Option<String>,
    /// The band.
    pub band: i64,
    /// The first person.
    pub first_id: MemberId,
    /// Their name.
    pub first_name: String,
    /// The second, where it takes two.
    pub second_id: Option<MemberId>,
    /// Their name.
    pub second_name: Option<String>,
    /// The local day.
    pub day: NaiveDate,
    /// When it begins, in minutes of the local day.
    pub starts: u32,
    /// How long it takes, in minutes.
    pub minutes: u32,
    /// Who planned it.
    pub made_by_name: String,
    /// How it ended; none while it stands.
    pub ended: Option<PlanEnd>,
    /// When, if the book knows.
    pub ended_at: Option<DateTime<Utc>>,
    /// Why, where somebody said so.
    pub ended_why: String,
}

impl RehousePlan {
    /// Its time.
    #[must_use]
    pub fn span(&self) -> Span {
        Span { from: self.starts, to: self.starts.saturating_add(self.minutes) }
    }

    /// From when to when: `10:00–10:30`.
    #[must_use]
    pub fn hours(&self) -> String {
        hours(self.span())
    }

    /// Its people: `Joss with Tamsin`.
    #[must_use]
    pub fn people(&self) -> String {
        match &self.second_name {
            Some(second) => format!("{} with {second}", self.first_name),
            None => self.first_name.clone(),
        }
    }

    /// All of it: `Joss with Tamsin, 26 Nov 2026, 10:00–10:30`.
    #[must_use]
    pub fn words(&self) -> String {
        format!("{}, {}, {}", self.people(), text::day(&self.day), self.hours())
    }

    /// Whether somebody is one of its people.
    #[must_use]
    pub fn is_of(&self, member: MemberId) -> bool {
        self.first_id == member || self.second_id == Some(member)
    }

    /// Whether its day is over.
    #[must_use]
    pub fn has_passed(&self, today: &NaiveDate) -> bool {
        self.day < *today
    }
}

/// A checked plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NewPlan {
    /// The first person.
    pub first: MemberId,
    /// The second, where it takes two.
    pub second: Option<MemberId>,
    /// The local day.
    pub day: NaiveDate,
    /// Its time.
    pub span: Span,
}

/// From when to when: `10:00–10:30`.
#[must_use]
pub fn hours(span: Span) -> String {
    format!("{}–{}", clock(span.from), clock(span.to))
}

/// A time at which the people of a rehouse are in together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PossibleTime {
    /// Who could be first, and their name.
    pub first: (MemberId, String),
    /// Who could be second, and their name.
    pub second: Option<(MemberId, String)>,
    /// From when to when.
    pub span: Span,
}

impl PossibleTime {
    /// In words: `Joss with Tamsin, 08:00–17:00`.
    #[must_use]
    pub fn words(&self) -> String {
        let people = self.second.as_ref().map_or_else(|| self.first.1.clone(), |(_, name)| format!("{} with {name}", self.first.1));
        format!("{people}, {}", hours(self.span))
    }
}

/// The times of one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DayTimes {
    /// The local day.
    pub day: NaiveDate,
    /// The times, the earliest first.
    pub times: Vec<PossibleTime>,
}

/// A rehouse that was broken off.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct BrokenOff {
    /// The animal.
    pub animal_id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// Its species.
    pub species: String,
    /// Who broke it off.
    pub member_name: String,
    /// When.
    pub at: DateTime<Utc>,
    /// Why, if they said so.
    pub note: String,
}

/// A line that the house adds to the list before a rehouse.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct ChecklistLine {
    /// Its id.
    pub id: ChecklistLineId,
    /// Its words.
    pub text: String,
    /// It stands on the lists of rehouses of this band and above.
    pub from_band: i64,
    /// Who added it.
    pub added_by_name: Option<String>,
    /// When.
    pub added_at: DateTime<Utc>,
    /// Who retired it.
    pub retired_by_name: Option<String>,
    /// When; none while it stands.
    pub retired_at: Option<DateTime<Utc>>,
}
