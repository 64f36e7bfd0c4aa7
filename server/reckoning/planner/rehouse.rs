//! When an animal must move to another enclosure, and what bars it.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::facts::{AnimalFacts, SiteRules};
use crate::reckoning::calendar::{days_after, written};
use crate::reckoning::enclosure::rehouse_due;
use crate::reckoning::moult::fast_of;
use crate::reckoning::words::MoultState;

/// Days after which a rehouse that was needed is late (common practice, no source).
const LATE_AFTER_DAYS: u32 = 14;
/// The same in an emergency.
const LATE_AFTER_DAYS_EMERGENCY: u32 = 2;

/// Where a rehouse stands on a day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "state", rename_all = "kebab-case")]
pub enum RehouseState {
    /// The enclosure does.
    NotNeeded,
    /// It is needed, and must wait.
    NotBefore {
        /// The day that it may be done; none while that depends on something else, such as a moult.
        day: Option<NaiveDate>,
        /// What it is needed for, and why it waits.
        reason: String,
    },
    /// It is due or overdue.
    Due {
        /// The day it fell due.
        due_on: NaiveDate,
        /// The last day on which it is not late.
        late_after: NaiveDate,
        /// Why, with figures.
        reason: String,
    },
}

/// What a rehouse is needed for.
struct Cause {
    since: NaiveDate,
    reason: String,
    emergency: bool,
}

fn cause(facts: &AnimalFacts) -> Option<Cause> {
    if let Some(need) = &facts.needs_rehouse {
        return Some(Cause { since: need.since, reason: need.reason.clone(), emergency: need.emergency });
    }
    let (span, length) = (facts.span_mm?, facts.enclosure_length_mm?);
    if !rehouse_due(span, length) {
        return None;
    }
    let share = f64::from(span) / f64::from(length.max(1));
    let since = facts.span_on.unwrap_or(facts.started_on).max(facts.rehoused_on.unwrap_or(facts.started_on));
    let reason = format!("leg span {span} mm in a box {length} mm long ({share:.2}; more than a third)");
    Some(Cause { since, reason, emergency: false })
}

/// Where a rehouse stands on a day, holds apart.
///
/// Needed when the leg span is more than a third of the box, or for another noted need. Not in pre-moult or while
/// moulting, not within the post-moult fast, not within days after a meal; not with a sac, unless in an emergency.
pub fn rehouse_state(facts: &AnimalFacts, rules: &SiteRules, day: NaiveDate) -> RehouseState {
    let Some(Cause { since, reason, emergency }) = cause(facts) else {
        return RehouseState::NotNeeded;
    };
    if let Some(bar) = bar(facts, emergency) {
        return RehouseState::NotBefore { day: None, reason: format!("{reason}; waits: {bar}") };
    }
    let (due_on, wait) =
        first_day(facts, rules).filter(|(free, _)| *free > since).unwrap_or_else(|| (since, format!("needed from {}", written(since))));
    if due_on > day {
        return RehouseState::NotBefore { day: Some(due_on), reason: format!("{reason}; {wait}") };
    }
    let late = if emergency { LATE_AFTER_DAYS_EMERGENCY } else { LATE_AFTER_DAYS };
    RehouseState::Due { due_on, late_after: days_after(since, late).max(due_on), reason }
}

/// What bars a rehouse for as long as it lasts.
fn bar(facts: &AnimalFacts, emergency: bool) -> Option<&'static str> {
    match facts.moult_state {
        MoultState::Moulting => Some("moulting now"),
        MoultState::PreMoult => Some("in pre-moult"),
        MoultState::Normal if facts.guarding_sac && !emergency => Some("guarding an egg sac"),
        MoultState::Normal => None,
    }
}

/// The first day that the last moult and the last meal leave free, with the one that decides.
fn first_day(facts: &AnimalFacts, rules: &SiteRules) -> Option<(NaiveDate, String)> {
    let moult = facts.last_moult.map(|moult| {
        let free = days_after(moult, fast_of(facts.span_mm, facts.life_stage).max_days);
        (free, format!("waits: moulted on {}", written(moult)))
    });
    let meal = facts.last_meal.map(|meal| {
        let free = days_after(meal.day, rules.rehouse_after_meal_days);
        (free, format!("waits: prey offered on {}", written(meal.day)))
    });
    moult.into_iter().chain(meal).max()
}
