//! When an animal must move to another enclosure, and what bars it.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::apart::{ApartKind, standing};
use super::care::StageRules;
use super::facts::AnimalFacts;
use super::outlook::Steps;
use super::site::SiteRules;
use crate::reckoning::calendar::{days_after, written};
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

/// What the rules come to.
pub(super) enum Move {
    NotNeeded,
    /// Barred for as long as something lasts.
    Barred(String),
    /// Needed from a day, past or to come.
    Needed {
        due_on: NaiveDate,
        late_after: NaiveDate,
        reason: String,
        /// What the day comes from.
        wait: String,
    },
}

fn cause(facts: &AnimalFacts, rules: &StageRules, steps: &mut Steps) -> Option<Cause> {
    if let Some(need) = &facts.needs_rehouse {
        steps.say(|| format!("noted on {}: {}", written(need.since), need.reason));
        return Some(Cause { since: need.since, reason: need.reason.clone(), emergency: need.emergency });
    }
    let Some((span, length)) = facts.span_mm.zip(facts.enclosure_length_mm) else {
        steps.say(|| "leg span or enclosure not measured, so that its size can't be held against it".to_owned());
        return None;
    };
    let spans = f64::from(rules.boxes.length_tenths) / 10.0;
    let share = f64::from(span) / f64::from(length.max(1));
    if !rules.boxes.outgrown(span, length) {
        steps.say(|| format!("leg span {span} mm in a box {length} mm long ({share:.3}): a box of {spans} spans does"));
        return None;
    }
    let since = facts.span_on.unwrap_or(facts.started_on).max(facts.rehoused_on.unwrap_or(facts.started_on));
    let limit = if rules.boxes.length_tenths == 30 { "a third".to_owned() } else { format!("1 in {spans}") };
    let reason = format!("leg span {span} mm in a box {length} mm long ({share:.2}; more than {limit})");
    steps.say(|| reason.clone());
    Some(Cause { since, reason, emergency: false })
}

/// What the rules come to for an animal on a day.
pub(super) fn course(facts: &AnimalFacts, rules: &StageRules, day: NaiveDate, steps: &mut Steps) -> Move {
    let Some(cause) = cause(facts, rules, steps) else { return Move::NotNeeded };
    if let Some(bar) = bar(facts, cause.emergency) {
        return Move::Barred(format!("{}; waits: {bar}", cause.reason));
    }
    let floors = floors(facts, rules, day, cause.emergency);
    for (free, why) in &floors {
        steps.say(|| format!("{why}, so not before {}", written(*free)));
    }
    let since = cause.since;
    let (due_on, wait) =
        floors.into_iter().max().filter(|(free, _)| *free > since).unwrap_or_else(|| (since, format!("needed from {}", written(since))));
    let late = if cause.emergency { LATE_AFTER_DAYS_EMERGENCY } else { LATE_AFTER_DAYS };
    Move::Needed { due_on, late_after: days_after(since, late).max(due_on), reason: cause.reason, wait }
}

/// Where a rehouse stands on a day, holds apart.
///
/// Needed when the leg span is more than a third of the box (or the share of the care profile), or for another noted
/// need. Not in pre-moult or while moulting, not within the post-moult fast, not within days after a meal; not with a
/// sac, nor while a rule set apart holds it back, unless in an emergency.
pub fn rehouse_state(facts: &AnimalFacts, rules: &SiteRules, day: NaiveDate) -> RehouseState {
    match course(facts, &rules.for_stage(&facts.care, facts.life_stage), day, &mut Steps::silent()) {
        Move::NotNeeded => RehouseState::NotNeeded,
        Move::Barred(reason) => RehouseState::NotBefore { day: None, reason },
        Move::Needed { due_on, reason, wait, .. } if due_on > day => {
            RehouseState::NotBefore { day: Some(due_on), reason: format!("{reason}; {wait}") }
        }
        Move::Needed { due_on, late_after, reason, .. } => RehouseState::Due { due_on, late_after, reason },
    }
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

/// The first days that the last moult, the last meal and a rule set apart leave free.
fn floors(facts: &AnimalFacts, rules: &StageRules, day: NaiveDate, emergency: bool) -> Vec<(NaiveDate, String)> {
    let moult = facts.last_moult.map(|moult| {
        let rest = rules.after_moult_days.unwrap_or_else(|| facts.care.fast_of(facts.span_mm, facts.life_stage).max_days);
        (days_after(moult, rest), format!("waits: moulted on {}", written(moult)))
    });
    let meal = facts.last_meal.map(|meal| {
        let free = days_after(meal.day, rules.after_meal_days);
        (free, format!("waits: prey offered on {}", written(meal.day)))
    });
    let apart = standing(&facts.apart, ApartKind::NoRehouse, day).filter(|_| !emergency);
    let apart = apart.map(|rule| (days_after(rule.until, 1), format!("waits: {}", rule.words())));
    moult.into_iter().chain(meal).chain(apart).collect()
}
