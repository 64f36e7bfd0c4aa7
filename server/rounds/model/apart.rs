//! Rules set apart for one animal or cohort, as the book keeps them.

use chrono::{DateTime, NaiveDate, Utc};

use crate::handling::model::HoldSubject;
use crate::house::ids::ApartId;
use crate::reckoning::planner::{ApartKind, SetApart};

/// A rule to be set apart from today on.
#[derive(Debug, Clone)]
pub struct NewApart {
    /// Which rule.
    pub kind: ApartKind,
    /// Every so many days, where it goes with a number.
    pub days: Option<u32>,
    /// Its last day.
    pub until: NaiveDate,
    /// Why.
    pub reason: String,
}

/// A rule that was set apart.
#[derive(Debug, Clone)]
pub struct Apart {
    /// Its id.
    pub id: ApartId,
    /// Whose it is.
    pub subject: HoldSubject,
    /// The rule itself.
    pub rule: SetApart,
    /// When it was ended before its day, by whom and why.
    pub ended: Option<(DateTime<Utc>, String, String)>,
}

impl Apart {
    /// Whether it stands on a day.
    #[must_use]
    pub fn stands(&self, today: &NaiveDate) -> bool {
        self.ended.is_none() && self.rule.stands(*today)
    }
}
