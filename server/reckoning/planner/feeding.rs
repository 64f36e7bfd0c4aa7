//! When food may be offered, and when it is due.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::facts::{AnimalFacts, Care, CohortFacts, LastMeal};
use crate::reckoning::calendar::{days_after, written};
use crate::reckoning::enclosure::settle_days;
use crate::reckoning::moult::fast_of;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{MealOutcome, MoultState};

/// Where feeding stands on a day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "state", rename_all = "kebab-case")]
pub enum FeedState {
    /// No feed is due, or food must not be offered.
    NotBefore {
        /// The day that a feed falls due; none while that depends on something else, such as a moult.
        day: Option<NaiveDate>,
        /// Why, with figures.
        reason: String,
    },
    /// A feed is due or overdue.
    Due {
        /// The day it fell due.
        due_on: NaiveDate,
        /// The last day on which it is not late.
        late_after: NaiveDate,
        /// Why, with figures.
        reason: String,
    },
}

/// A feed was asked for a stage that takes no prey.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a {0} is not fed; feeding starts at the second instar")]
pub struct NotFed(pub Stage);

/// Whether a feed may be planned or recorded for a stage.
///
/// # Errors
/// Eggs, post-embryos and first instars are not fed.
pub fn feed_allowed(stage: Stage) -> Result<(), NotFed> {
    if stage.feeds() { Ok(()) } else { Err(NotFed(stage)) }
}

/// When a feed falls due, before any bar to feeding is looked at.
struct Base {
    due_on: NaiveDate,
    late_after: NaiveDate,
    reason: String,
}

fn base(care: &Care, started_on: NaiveDate, last_meal: Option<LastMeal>, refusals: u32) -> Base {
    let (least, most) = (care.feed_min_days, care.feed_max_days.max(care.feed_min_days));
    match last_meal {
        None => Base {
            due_on: started_on,
            late_after: days_after(started_on, most),
            reason: format!("no meal on record since {}; every {least} to {most} days", written(started_on)),
        },
        Some(LastMeal { day, outcome: MealOutcome::Took }) => Base {
            due_on: days_after(day, least),
            late_after: days_after(day, most),
            reason: format!("last meal on {}; every {least} to {most} days", written(day)),
        },
        Some(LastMeal { day, outcome: MealOutcome::Refused | MealOutcome::LeftIn }) => {
            let retry = least.div_ceil(2).max(2);
            let row = if refusals > 1 { format!(", {refusals} in a row") } else { String::new() };
            Base {
                due_on: days_after(day, retry),
                late_after: days_after(day, retry.max(most)),
                reason: format!("not taken on {}{row}; offered again after {retry} days", written(day)),
            }
        }
    }
}

impl Base {
    /// Moves the due day to no earlier than a floor.
    fn not_before(self, floor: NaiveDate, slack_days: u32, why: &str) -> Self {
        if floor <= self.due_on {
            return self;
        }
        Self { due_on: floor, late_after: self.late_after.max(days_after(floor, slack_days)), reason: format!("{why}; {}", self.reason) }
    }

    fn on(self, day: NaiveDate) -> FeedState {
        let Self { due_on, late_after, reason } = self;
        if due_on <= day { FeedState::Due { due_on, late_after, reason } } else { FeedState::NotBefore { day: Some(due_on), reason } }
    }
}

fn wait(reason: impl Into<String>) -> FeedState {
    FeedState::NotBefore { day: None, reason: reason.into() }
}

/// Where an animal's feeding stands on a day, holds apart.
///
/// Not in pre-moult or while moulting, not while guarding a sac, not while prey is still in; not before the end of
/// the post-moult fast (the house's, that is the longer end), nor while settling in a new box.
pub fn feed_state(facts: &AnimalFacts, day: NaiveDate) -> FeedState {
    match facts.moult_state {
        MoultState::Moulting => return wait("moulting now: nothing is offered"),
        MoultState::PreMoult => {
            return wait("in pre-moult: nothing is offered until after the moult");
        }
        MoultState::Normal => {}
    }
    if facts.guarding_sac {
        return wait("guarding an egg sac: left in peace");
    }
    if facts.left_in_at.is_some() {
        return wait("prey is still in: clear it first");
    }
    let slack = facts.care.feed_max_days.saturating_sub(facts.care.feed_min_days).max(1);
    let mut feed = base(&facts.care, facts.started_on, facts.last_meal, facts.refusals_in_row);
    if let Some(moult) = facts.last_moult {
        let fast = fast_of(facts.span_mm, facts.life_stage);
        let why = format!("moulted on {}: {} days without food at this size", written(moult), fast.max_days);
        feed = feed.not_before(days_after(moult, fast.max_days), slack, &why);
    }
    let unfed_since = |moved: NaiveDate| facts.last_meal.is_none_or(|meal| meal.day <= moved);
    if let Some(moved) = facts.rehoused_on.filter(|moved| unfed_since(*moved)) {
        let (least, most) = settle_days(facts.life_stage);
        let why = format!("new box on {}: {least} to {most} days to settle", written(moved));
        feed = feed.not_before(days_after(moved, least), most - least, &why);
    }
    feed.on(day)
}

/// Where a cohort's feeding stands on a day, holds apart.
///
/// Nothing before the second instar. Those that moulted on the last moult day wait out their fast: the whole group
/// waits when they are half of those that feed or more; otherwise the reason says to leave them out.
pub fn cohort_feed_state(facts: &CohortFacts, day: NaiveDate) -> FeedState {
    let feeding = facts.feeding();
    if feeding == 0 {
        return wait("none has reached the second instar, where feeding starts");
    }
    if facts.left_in_at.is_some() {
        return wait("prey is still in: clear it first");
    }
    let mut feed = base(&facts.care, facts.started_on, facts.last_meal, 0);
    if feeding < facts.alive() {
        feed.reason = format!("{feeding} of {} take prey; {}", facts.alive(), feed.reason);
    }
    if let Some(moult) = facts.last_moult {
        let fast = fast_of(facts.span_mm, facts.hazard.life_stage);
        let free = days_after(moult, fast.max_days);
        if facts.moulted_then.saturating_mul(2) >= feeding {
            let why = format!("{} moulted on {}: {} days without food at this size", facts.moulted_then, written(moult), fast.max_days);
            feed = feed.not_before(free, 1, &why);
        } else if facts.moulted_then > 0 && day < free {
            feed.reason = format!(
                "{}; leave out the {} that moulted on {}, until {}",
                feed.reason,
                facts.moulted_then,
                written(moult),
                written(free)
            );
        }
    }
    feed.on(day)
}
