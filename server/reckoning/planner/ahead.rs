//! The days ahead: which duties will fall due on each of them if each is done on the day it falls due, every meal is
//! taken, and nothing moults meanwhile.
//!
//! A subject is stepped from day to day: what [`plan`](super::plan) gives for a day and is not held is taken as done on
//! it, the facts are changed as the sign-off would change them, and what that makes due on the same day follows. A duty
//! that is held comes on the first day on which it is not. Prey that will be left in is not foreseen for any one animal;
//! the work of clearing it is expected by the share of meals that were left in.
//!
//! What is not foreseen: moults, deaths, refusals, threats, sales; that a dam is fed again once her sac was taken.

use std::collections::BTreeSet;

use chrono::{Duration, NaiveDate};
use serde::{Deserialize, Serialize};

use super::facts::{AnimalFacts, CohortFacts, LastMeal, PlannedDuty, SacFacts, Subject, SubjectKey};
use super::{Desk, SiteRules, cohort};
use crate::reckoning::calendar::{day_in, days_after, written};
use crate::reckoning::enclosure::needed_size;
use crate::reckoning::hazard::ExposureTable;
use crate::reckoning::words::{DutyKind, Exposure, MealOutcome};

/// The most days that are looked ahead: figures of later ones would rest on nothing.
pub const MOST_DAYS: u32 = 60;

/// A duty of a coming day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComingDuty {
    /// The day on which it can be done: the day it falls due, or the first on which it is not held.
    pub day: NaiveDate,
    /// How likely it is to come: 1, or the chance that prey will have to be cleared; for turns of a sac, how often that day.
    pub expected: f64,
    /// How many take prey, if it is a feed; otherwise 0.
    pub mouths: u32,
    /// The duty, as it will be planned.
    #[serde(flatten)]
    pub duty: PlannedDuty,
}

impl ComingDuty {
    /// The minutes that it takes all who do it together, on average.
    pub fn minutes(&self) -> f64 {
        self.expected * f64::from(self.duty.minutes) * f64::from(self.duty.persons)
    }
}

/// How often prey is left in, as shares from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeftIn {
    /// Of offers to tagged animals.
    pub animals: f64,
    /// Of meals of cohorts: those at which it was left in with any.
    pub cohorts: f64,
}

impl LeftIn {
    /// Nothing is left in.
    pub const NEVER: Self = Self { animals: 0.0, cohorts: 0.0 };
}

/// How many offers of its own weigh as much as the usual share (common practice, no source).
const LEFT_IN_WEIGHT: f64 = 10.0;
/// The share of offers whose prey is usually left in (common practice, no source).
const LEFT_IN_USUAL: f64 = 0.05;

/// The share of offers whose prey is left in: the house's own, drawn towards the usual 5 % with the weight of ten offers.
/// More left in than offered counts as all.
pub fn left_in_share(offered: u32, left_in: u32) -> f64 {
    (f64::from(left_in.min(offered)) + LEFT_IN_WEIGHT * LEFT_IN_USUAL) / (f64::from(offered) + LEFT_IN_WEIGHT)
}

/// The duties of so many days from `from` on, at most [`MOST_DAYS`], in order of day, subject and kind.
pub fn look_ahead(
    from: NaiveDate,
    day_count: u32,
    subjects: &[Subject],
    rules: &SiteRules,
    table: &ExposureTable,
    left_in: LeftIn,
) -> Vec<ComingDuty> {
    let last = days_after(from, day_count.clamp(1, MOST_DAYS) - 1);
    let mut coming = Vec::new();
    for subject in subjects {
        let mut stepped = Stepped { subject: subject.clone(), rules, table, left_in, last };
        for day in from.iter_days().take_while(|day| *day <= last) {
            stepped.day(day, &mut coming);
        }
    }
    coming.sort_by(|one: &ComingDuty, other| {
        let order = |coming: &ComingDuty| (coming.day, coming.duty.subject, coming.duty.kind);
        order(one).cmp(&order(other)).then(other.expected.total_cmp(&one.expected))
    });
    coming
}

/// One subject on its way through the days.
struct Stepped<'a> {
    subject: Subject,
    rules: &'a SiteRules,
    table: &'a ExposureTable,
    left_in: LeftIn,
    last: NaiveDate,
}

impl Stepped<'_> {
    /// Takes what is due on a day as done on it, and what follows from that on the same day.
    fn day(&mut self, day: NaiveDate, coming: &mut Vec<ComingDuty>) {
        let mut done = BTreeSet::new();
        loop {
            let due: Vec<PlannedDuty> =
                self.planned(day).into_iter().filter(|duty| duty.held.is_none() && done.insert(duty.kind)).collect();
            if due.is_empty() {
                return;
            }
            for duty in due {
                let mouths = if duty.kind == DutyKind::Feed { self.mouths() } else { 0 };
                coming.extend(self.clearing(day, &duty, mouths).into_iter().filter(|clearing| clearing.day <= self.last));
                done_as_planned(&mut self.subject, &duty, day, self.rules);
                let expected = if duty.kind == DutyKind::SacTurn { self.turns() } else { 1.0 };
                coming.push(ComingDuty { day, expected, mouths, duty });
            }
        }
    }

    fn planned(&self, day: NaiveDate) -> Vec<PlannedDuty> {
        Desk { day, rules: self.rules, table: self.table, asked: false }.settle(&self.subject)
    }

    /// How often a day a sac is turned.
    fn turns(&self) -> f64 {
        let own = if let Subject::Sac(facts) = &self.subject { facts.rules } else { None };
        f64::from(own.unwrap_or_else(|| self.rules.for_sacs()).turns.clamp(1, 24))
    }

    fn mouths(&self) -> u32 {
        match &self.subject {
            Subject::Animal(_) => 1,
            Subject::Cohort(facts) => facts.feeding(),
            Subject::Sac(_) | Subject::Room(_) => 0,
        }
    }

    /// The clearing that a feed may bring: with the chance that any of those fed leaves its prey.
    fn clearing(&self, day: NaiveDate, feed: &PlannedDuty, mouths: u32) -> Option<ComingDuty> {
        let (hours, minutes, share) = match &self.subject {
            Subject::Animal(facts) => (facts.care.uneaten_hours, 1, self.left_in.animals),
            Subject::Cohort(facts) => (facts.care.uneaten_hours, cohort::clearing_minutes(facts), self.left_in.cohorts),
            Subject::Sac(_) | Subject::Room(_) => return None,
        };
        let expected = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
        if feed.kind != DutyKind::Feed || mouths == 0 || expected <= 0.0 {
            return None;
        }
        let due_on = days_after(day, hours.div_ceil(24));
        let percent = expected * 100.0;
        let reason = format!("prey is left in at {percent:.0} % of offers; that of {} comes out within {hours} hours", written(day));
        let duty = PlannedDuty { kind: DutyKind::ClearUneaten, due_on, late_after: due_on, minutes, reason, due_at: None, ..feed.clone() };
        Some(ComingDuty { day: due_on, expected, mouths: 0, duty })
    }
}

/// Changes a subject's facts as the sign-off of a duty would, if everything went as planned.
pub fn done_as_planned(subject: &mut Subject, duty: &PlannedDuty, day: NaiveDate, rules: &SiteRules) {
    match subject {
        Subject::Animal(facts) => animal_after(facts, duty.kind, day),
        Subject::Cohort(facts) => cohort_after(facts, duty.kind, day),
        Subject::Sac(facts) => sac_after(facts, duty, day, rules),
        Subject::Room(facts) => facts.last_reading = Some(day),
    }
}

fn animal_after(facts: &mut AnimalFacts, kind: DutyKind, day: NaiveDate) {
    match kind {
        DutyKind::Feed => {
            facts.last_meal = Some(LastMeal { day, outcome: MealOutcome::Took });
            facts.refusals_in_row = 0;
        }
        DutyKind::ClearUneaten => {
            facts.left_in_at = None;
            facts.last_meal = facts.last_meal.map(taken_out);
        }
        DutyKind::MoultCheck => facts.last_moult_check = Some(day),
        DutyKind::Water => facts.last_water = Some(day),
        DutyKind::SpotClean => facts.last_clean = Some(day),
        DutyKind::Rehouse => {
            facts.rehoused_on = Some(day);
            facts.needs_rehouse = None;
            let needed = facts.span_mm.map(|span| needed_size(span).length_mm);
            facts.enclosure_length_mm = facts.enclosure_length_mm.max(needed);
        }
        _ => {}
    }
}

fn cohort_after(facts: &mut CohortFacts, kind: DutyKind, day: NaiveDate) {
    match kind {
        DutyKind::Feed => facts.last_meal = Some(LastMeal { day, outcome: MealOutcome::Took }),
        DutyKind::ClearUneaten => {
            facts.left_in_at = None;
            facts.last_meal = facts.last_meal.map(taken_out);
        }
        DutyKind::MoultCheck => facts.last_moult_check = Some(day),
        DutyKind::Water => facts.last_water = Some(day),
        DutyKind::SpotClean => facts.last_clean = Some(day),
        DutyKind::CohortCount => facts.last_count = Some(day),
        _ => {}
    }
}

/// Prey that lay there counts as not taken, before it is cleared and after.
fn taken_out(meal: LastMeal) -> LastMeal {
    let outcome = if meal.outcome == MealOutcome::LeftIn { MealOutcome::Refused } else { meal.outcome };
    LastMeal { outcome, ..meal }
}

/// A check; with hands in it takes the sac from its dam, which its window asks for.
fn sac_after(facts: &mut SacFacts, duty: &PlannedDuty, day: NaiveDate, rules: &SiteRules) {
    if duty.kind == DutyKind::SacTurn {
        // The last turn of a day is at its end, so that the next falls on the next day.
        facts.last_turn = day_in(rules.zone, days_after(day, 1)).ok().map(|next| next.start - Duration::minutes(1));
    }
    if duty.kind != DutyKind::SacCheck {
        return;
    }
    facts.last_check = Some(day);
    if facts.with_dam && duty.exposure == Exposure::HandsIn {
        facts.with_dam = false;
        facts.pulled_on = Some(day);
    }
}

/// A feed that is to come: whose, on which day, and how many take prey.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ComingFeed {
    /// The animal or cohort.
    pub subject: SubjectKey,
    /// The day.
    pub day: NaiveDate,
    /// How many take prey.
    pub mouths: u32,
}

/// The feeds among the duties of the coming days, on the same terms as [`look_ahead`].
pub fn coming_feeds(from: NaiveDate, day_count: u32, subjects: &[Subject], rules: &SiteRules, table: &ExposureTable) -> Vec<ComingFeed> {
    let fed = subjects.iter().filter(|subject| matches!(subject, Subject::Animal(_) | Subject::Cohort(_))).cloned().collect::<Vec<_>>();
    let coming = look_ahead(from, day_count, &fed, rules, table, LeftIn::NEVER);
    let feeds = coming.iter().filter(|coming| coming.duty.kind == DutyKind::Feed && coming.mouths > 0);
    feeds.map(|coming| ComingFeed { subject: coming.duty.subject, day: coming.day, mouths: coming.mouths }).collect()
}
