//! Rules set apart for one animal or cohort, for a reason and until a day. They end by themselves.
//!
//! They move meals, look more often, or keep an animal in its box for longer. None of them stops or spaces out a look,
//! a count or the taking out of prey, none holds back an emergency, and none bears on clearance: what keeps an animal
//! alive and people safe has no exceptions.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::reckoning::calendar::written;

coded_enum! {
    /// Which rule is set apart.
    ApartKind, "rule" {
        FeedEvery = "feed-every", "fed every so many days";
        NoFeed = "no-feed", "not fed";
        CheckEvery = "check-every", "looked at every so many days";
        NoRehouse = "no-rehouse", "not rehoused for its size";
    }
}

impl ApartKind {
    /// Whether it goes with a number of days.
    pub fn has_days(self) -> bool {
        matches!(self, Self::FeedEvery | Self::CheckEvery)
    }
}

/// A rule set apart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SetApart {
    /// Which rule.
    pub kind: ApartKind,
    /// Every so many days, where it goes with a number.
    pub days: Option<u32>,
    /// The first day.
    pub from: NaiveDate,
    /// The last day.
    pub until: NaiveDate,
    /// Why.
    pub reason: String,
    /// Who set it.
    pub by: String,
}

impl SetApart {
    /// Whether it stands on a day.
    pub fn stands(&self, day: NaiveDate) -> bool {
        self.from <= day && day <= self.until
    }

    /// The rule in words: `fed every 3 days until 12 December 2026 (thin after laying, by Ines)`.
    pub fn words(&self) -> String {
        let what = match (self.kind, self.days) {
            (ApartKind::FeedEvery, Some(days)) => format!("fed every {}", super::days(days)),
            (ApartKind::CheckEvery, Some(days)) => format!("looked at every {}", super::days(days)),
            (kind, _) => kind.label().to_owned(),
        };
        format!("{what} until {} ({}, by {})", written(self.until), self.reason, self.by)
    }
}

/// The rule of a kind that stands on a day: of several, the one that was set last.
pub fn standing(apart: &[SetApart], kind: ApartKind, day: NaiveDate) -> Option<&SetApart> {
    apart.iter().rev().find(|one| one.kind == kind && one.stands(day))
}

/// Every so many days, and the rule that says so, where that is sooner than the profile's.
pub(super) fn closer_check(apart: &[SetApart], day: NaiveDate, every: u32) -> Option<(u32, &SetApart)> {
    let rule = standing(apart, ApartKind::CheckEvery, day)?;
    rule.days.map(|days| days.max(1)).filter(|days| *days < every).map(|days| (days, rule))
}
