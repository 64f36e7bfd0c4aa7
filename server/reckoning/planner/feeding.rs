//! When food may be offered, and when it is due.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::animal::scored;
use super::apart::{ApartKind, SetApart, standing};
use super::care::{Care, StageRules};
use super::facts::{AnimalFacts, CohortFacts, LastMeal};
use super::outlook::{Need, Steps};
use crate::reckoning::calendar::{days_after, written};
use crate::reckoning::condition::{Condition, Scored};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{Exposure, MealOutcome, MoultState};

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
pub(super) struct Base {
    due_on: NaiveDate,
    late_after: NaiveDate,
    reason: String,
}

/// How often somebody is fed.
struct Tempo {
    /// Least days between meals.
    least: u32,
    /// Most days between meals.
    most: u32,
    /// Days after a refusal.
    retry: u32,
    /// What the days come from, where it is not the care profile alone.
    because: String,
}

impl Tempo {
    /// The profile's, or a rule's that is set apart, or drawn to one end by how well fed it looks.
    fn of(care: &Care, rules: &StageRules, apart: Option<&SetApart>, condition: Option<Scored>) -> Self {
        let (least, most) = (care.feed_min_days, care.feed_max_days.max(care.feed_min_days));
        let tempo = Self { least, most, retry: rules.retry_days, because: String::new() };
        if let Some((rule, days)) = apart.and_then(|rule| Some((rule, rule.days?.max(1)))) {
            return Self { least: days, most: days, retry: days.min(tempo.retry), because: rule.words() };
        }
        let because = |condition: Scored, what| format!("scored {} on {}: {what}", condition.condition, written(condition.day));
        match condition {
            Some(scored) if scored.condition == Condition::Shrunken => {
                let soon = least.min(rules.retry_days);
                Self { least: soon, most: least, because: because(scored, "fed sooner; water first, then call a senior"), ..tempo }
            }
            Some(scored) if scored.condition == Condition::Heavy => {
                let slack = most - least;
                Self { least: most, most: most.saturating_add(slack), because: because(scored, "fed at the long end"), ..tempo }
            }
            _ => tempo,
        }
    }

    fn every(&self) -> String {
        let Self { least, most, because, .. } = self;
        match (because.is_empty(), least == most) {
            (true, _) => format!("every {least} to {most} days"),
            (false, true) => because.clone(),
            (false, false) => format!("every {least} to {most} days ({because})"),
        }
    }

    fn base(&self, started_on: NaiveDate, last_meal: Option<LastMeal>, refusals: u32) -> Base {
        match last_meal {
            None => Base {
                due_on: started_on,
                late_after: days_after(started_on, self.most),
                reason: format!("no meal on record since {}; {}", written(started_on), self.every()),
            },
            Some(LastMeal { day, outcome: MealOutcome::Took }) => Base {
                due_on: days_after(day, self.least),
                late_after: days_after(day, self.most),
                reason: format!("last meal on {}; {}", written(day), self.every()),
            },
            Some(LastMeal { day, outcome: MealOutcome::Refused | MealOutcome::LeftIn }) => {
                let row = if refusals > 1 { format!(", {refusals} in a row") } else { String::new() };
                let because = if self.because.is_empty() { String::new() } else { format!(" ({})", self.because) };
                Base {
                    due_on: days_after(day, self.retry),
                    late_after: days_after(day, self.retry.max(self.most)),
                    reason: format!("not taken on {}{row}; offered again after {} days{because}", written(day), self.retry),
                }
            }
        }
    }
}

impl Base {
    /// Moves the due day to no earlier than a floor.
    fn not_before(self, floor: NaiveDate, slack_days: u32, steps: &mut Steps, why: impl Fn() -> String) -> Self {
        steps.say(|| format!("{}, so not before {}", why(), written(floor)));
        if floor <= self.due_on {
            return self;
        }
        let reason = format!("{}; {}", why(), self.reason);
        Self { due_on: floor, late_after: self.late_after.max(days_after(floor, slack_days)), reason }
    }

    fn on(self, day: NaiveDate) -> FeedState {
        let Self { due_on, late_after, reason } = self;
        if due_on <= day { FeedState::Due { due_on, late_after, reason } } else { FeedState::NotBefore { day: Some(due_on), reason } }
    }

    /// The need of a feed that takes so many minutes.
    pub(super) fn need(self, minutes: u32) -> Need {
        let Self { due_on, late_after, reason } = self;
        Need { due_on, late_after, due_at: None, exposure: Exposure::Open, minutes, reason, stopped: None }
    }
}

/// What the rules come to: a day, or why food must not be offered at all.
type Feed = Result<Base, &'static str>;

fn state(feed: Feed, day: NaiveDate) -> FeedState {
    match feed {
        Ok(base) => base.on(day),
        Err(reason) => FeedState::NotBefore { day: None, reason: reason.to_owned() },
    }
}

/// Where an animal's feeding stands on a day, holds apart.
///
/// Not in pre-moult or while moulting, not while guarding a sac, not while prey is still in; not before the end of
/// the post-moult fast (the house's, that is the longer end), nor while settling in a new box, nor for days after it
/// was found obese, nor while a rule set apart says so.
pub fn feed_state(facts: &AnimalFacts, day: NaiveDate) -> FeedState {
    state(animal_feed(facts, day, &mut Steps::silent()), day)
}

/// The same, with the rules that were weighed.
pub(super) fn animal_feed(facts: &AnimalFacts, day: NaiveDate, steps: &mut Steps) -> Feed {
    match facts.moult_state {
        MoultState::Moulting => return Err("moulting now: nothing is offered"),
        MoultState::PreMoult => return Err("in pre-moult: nothing is offered until after the moult"),
        MoultState::Normal => {}
    }
    if facts.guarding_sac {
        return Err("guarding an egg sac: left in peace");
    }
    if facts.left_in_at.is_some() {
        return Err("prey is still in: clear it first");
    }
    let rules = facts.care.rules(facts.life_stage);
    let condition = scored(facts);
    let tempo = Tempo::of(&facts.care, &rules, standing(&facts.apart, ApartKind::FeedEvery, day), condition);
    let slack = tempo.most.saturating_sub(tempo.least).max(1);
    let mut feed = tempo.base(facts.started_on, facts.last_meal, facts.refusals_in_row);
    steps.say(|| format!("{}, so from {}", feed.reason, written(feed.due_on)));
    if let Some(moult) = facts.last_moult {
        let fast = facts.care.fast_of(facts.span_mm, facts.life_stage);
        feed = feed.not_before(days_after(moult, fast.max_days), slack, steps, || after_moult(facts, moult, fast.max_days));
    }
    let unfed_since = |moved: NaiveDate| facts.last_meal.is_none_or(|meal| meal.day <= moved);
    if let Some(moved) = facts.rehoused_on.filter(|moved| unfed_since(*moved)) {
        let (least, most) = (rules.settle_min_days, rules.settle_max_days.max(rules.settle_min_days));
        feed = feed.not_before(days_after(moved, least), most - least, steps, || {
            format!("new box on {}: {least} to {most} days to settle", written(moved))
        });
    }
    if let Some(obese) = condition.filter(|scored| scored.condition == Condition::Obese) {
        let skip = rules.obese_skip_days;
        feed = feed.not_before(days_after(obese.day, skip), slack, steps, || {
            format!("scored {} on {}: no feed for {skip} days or until a lower score", obese.condition, written(obese.day))
        });
    }
    Ok(set_apart(feed, &facts.apart, day, slack, steps))
}

fn after_moult(facts: &AnimalFacts, moult: NaiveDate, fast_days: u32) -> String {
    let size = facts.span_mm.map_or_else(|| "this size".to_owned(), |span| format!("this size ({span} mm)"));
    format!("moulted on {}: {fast_days} days without food at {size}", written(moult))
}

fn set_apart(feed: Base, apart: &[SetApart], day: NaiveDate, slack: u32, steps: &mut Steps) -> Base {
    match standing(apart, ApartKind::NoFeed, day) {
        Some(rule) => feed.not_before(days_after(rule.until, 1), slack, steps, || rule.words()),
        None => feed,
    }
}

/// Where a cohort's feeding stands on a day, holds apart.
///
/// Nothing before the second instar. Those that moulted on the last moult day wait out their fast: the whole group
/// waits when they are half of those that feed or more; otherwise the reason says to leave them out.
pub fn cohort_feed_state(facts: &CohortFacts, day: NaiveDate) -> FeedState {
    state(cohort_feed(facts, day, &mut Steps::silent()), day)
}

/// The same, with the rules that were weighed.
pub(super) fn cohort_feed(facts: &CohortFacts, day: NaiveDate, steps: &mut Steps) -> Feed {
    let feeding = facts.feeding();
    if feeding == 0 {
        return Err("none has reached the second instar, where feeding starts");
    }
    if facts.left_in_at.is_some() {
        return Err("prey is still in: clear it first");
    }
    let life_stage = facts.hazard.life_stage;
    let tempo = Tempo::of(&facts.care, &facts.care.rules(life_stage), standing(&facts.apart, ApartKind::FeedEvery, day), None);
    let mut feed = tempo.base(facts.started_on, facts.last_meal, 0);
    if feeding < facts.alive() {
        feed.reason = format!("{feeding} of {} take prey; {}", facts.alive(), feed.reason);
    }
    steps.say(|| format!("{}, so from {}", feed.reason, written(feed.due_on)));
    if let Some(moult) = facts.last_moult {
        let fast = facts.care.fast_of(facts.span_mm, life_stage);
        let free = days_after(moult, fast.max_days);
        if facts.moulted_then.saturating_mul(2) >= feeding {
            feed = feed.not_before(free, 1, steps, || {
                format!("{} moulted on {}: {} days without food at this size", facts.moulted_then, written(moult), fast.max_days)
            });
        } else if facts.moulted_then > 0 && day < free {
            let leave_out = format!("leave out the {} that moulted on {}, until {}", facts.moulted_then, written(moult), written(free));
            feed.reason = format!("{}; {leave_out}", feed.reason);
            steps.say(|| leave_out);
        }
    }
    Ok(set_apart(feed, &facts.apart, day, 1, steps))
}
