//! Why a duty is due, or not: what the planner itself weighed, rule by rule.

use std::borrow::Cow;

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};

use crate::reckoning::words::{DutyKind, Exposure};

/// Where one kind of duty stands for one subject on a day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Outlook {
    /// The duty.
    pub kind: DutyKind,
    /// Where it stands.
    pub standing: Standing,
    /// How near it brings hands; none when it has no day.
    pub exposure: Option<Exposure>,
    /// Why it must wait, and until when, if something holds it now.
    pub held: Option<String>,
    /// Each rule that was weighed, with its figures, in order.
    pub rules: Vec<String>,
}

/// Where a duty stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "standing", rename_all = "kebab-case")]
pub enum Standing {
    /// It is due or overdue.
    Due {
        /// The day it fell due.
        since: NaiveDate,
        /// The last day on which it is not late.
        late_after: NaiveDate,
    },
    /// It falls due on a day to come.
    From {
        /// That day.
        day: NaiveDate,
    },
    /// It waits for something that has no day, such as a moult.
    Waits {
        /// For what.
        reason: String,
    },
    /// There is no need of it.
    NotNeeded {
        /// Why.
        reason: String,
    },
}

/// A need that has not been held against the day, the holds and the table yet.
pub(super) struct Need {
    pub(super) due_on: NaiveDate,
    pub(super) late_after: NaiveDate,
    pub(super) due_at: Option<DateTime<Utc>>,
    pub(super) exposure: Exposure,
    pub(super) minutes: u32,
    pub(super) reason: String,
    /// What stops it besides holds.
    pub(super) stopped: Option<&'static str>,
}

/// What one kind of duty comes to for one subject.
pub(super) enum Course {
    /// It has a day, past or to come.
    Need(Need),
    /// It waits for something that has no day.
    Waits(Cow<'static, str>),
    /// There is no need of it.
    NotNeeded(Cow<'static, str>),
}

/// One kind of duty with its course and the rules that were weighed.
pub(super) struct Aim {
    pub(super) kind: DutyKind,
    pub(super) course: Course,
    pub(super) steps: Steps,
}

impl Aim {
    pub(super) fn needed(kind: DutyKind, need: Need, steps: Steps) -> Self {
        Self { kind, course: Course::Need(need), steps }
    }

    pub(super) fn waits(kind: DutyKind, reason: impl Into<Cow<'static, str>>, steps: Steps) -> Self {
        Self { kind, course: Course::Waits(reason.into()), steps }
    }

    pub(super) fn not_needed(kind: DutyKind, reason: &'static str) -> Self {
        Self { kind, course: Course::NotNeeded(reason.into()), steps: Steps::silent() }
    }
}

/// The rules that were weighed, in words; nothing is written down unless somebody asks why.
pub(super) struct Steps(Option<Vec<String>>);

impl Steps {
    /// Writes nothing down.
    pub(super) const fn silent() -> Self {
        Self(None)
    }

    /// Writes down when asked.
    pub(super) fn when(asked: bool) -> Self {
        Self(asked.then(Vec::new))
    }

    /// Writes a rule down.
    pub(super) fn say(&mut self, words: impl FnOnce() -> String) {
        if let Some(rules) = &mut self.0 {
            rules.push(words());
        }
    }

    pub(super) fn told(self) -> Vec<String> {
        self.0.unwrap_or_default()
    }
}
