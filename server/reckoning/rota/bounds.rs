//! What no rota can better: bounds of the weight and of the greatest share.
//!
//! The duties that need a clearance or above can be done only by people who have it, so their minutes must fit into the
//! minutes of those people (Hall's condition, by clearance); likewise the duties that are pinned to somebody. What does
//! not fit is left out at the least urgency.

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

use super::knapsack::{Item, Knapsack};
use super::problem::{Job, Problem};
use super::share::Share;
use crate::reckoning::cells::Cells;

/// The most clearances that are looked at.
const MOST_LEVELS: usize = 16;

/// Whose minutes are limited.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Who {
    /// All who have a clearance or above.
    Cleared(u8),
    /// One worker.
    Only(usize),
}

/// Duties that only some can do.
struct Limit {
    who: Who,
    demand: u64,
    knapsack: Knapsack,
}

/// All limits of a problem.
pub(super) struct Bounds<'a> {
    problem: &'a Problem,
    /// Pins first, then clearances from high to low.
    limits: Vec<Limit>,
}

impl Who {
    fn minutes_of(self, job: &Job) -> u64 {
        match self {
            Self::Cleared(clearance) => job.minutes_at(clearance),
            Self::Only(worker) => {
                if job.pinned == Some(worker) {
                    job.minutes
                } else {
                    0
                }
            }
        }
    }

    /// The whole units in the minutes of those who are limited.
    fn sum(self, problem: &Problem, by_worker: &[u64]) -> u64 {
        let units = |minutes: u64| minutes / problem.unit * problem.unit;
        match self {
            Self::Cleared(clearance) => {
                let cleared = problem.workers.iter().zip(by_worker).filter(|(worker, _)| worker.clearance >= clearance);
                cleared.map(|(_, minutes)| units(*minutes)).sum()
            }
            Self::Only(worker) => units(by_worker.at(worker)),
        }
    }
}

impl<'a> Bounds<'a> {
    pub(super) fn new(problem: &'a Problem) -> Self {
        let pinned: BTreeSet<usize> = problem.jobs.iter().filter_map(|job| job.pinned).collect();
        let mut pinned_jobs: Vec<Vec<usize>> = vec![Vec::new(); problem.workers.len()];
        for (number, job) in problem.jobs.iter().enumerate() {
            if let Some(jobs) = job.pinned.and_then(|worker| pinned_jobs.get_mut(worker)) {
                jobs.push(number);
            }
        }
        let by_pin = pinned.into_iter().map(|worker| {
            let jobs = pinned_jobs.get(worker).map(Vec::as_slice).unwrap_or_default();
            Limit::new(Who::Only(worker), problem, jobs.iter().copied())
        });
        let by_clearance = levels(problem).into_iter().map(|clearance| Limit::new(Who::Cleared(clearance), problem, 0..problem.jobs.len()));
        Self { problem, limits: by_pin.chain(by_clearance).collect() }
    }

    /// A weight that no rota within these caps is below.
    pub(super) fn weight(&self, caps: &[u64]) -> u64 {
        let least = |limit: &Limit| limit.knapsack.least_weight(limit.demand.saturating_sub(limit.who.sum(self.problem, caps)));
        let (pins, levels): (Vec<&Limit>, Vec<&Limit>) = self.limits.iter().partition(|limit| matches!(limit.who, Who::Only(_)));
        let by_pin: u64 = pins.into_iter().map(least).sum();
        levels.into_iter().map(least).max().unwrap_or_default().max(by_pin)
    }

    /// A share that no rota of at most this weight is below.
    pub(super) fn share(&self, weight: u64) -> Share {
        let by_limit = self.limits.iter().map(|limit| {
            let needed = limit.demand.saturating_sub(limit.knapsack.most_minutes(weight));
            let days: Vec<u64> = match limit.who {
                Who::Cleared(clearance) => {
                    self.problem.workers.iter().filter(|worker| worker.clearance >= clearance).map(|worker| worker.minutes).collect()
                }
                Who::Only(worker) => vec![self.problem.workers.at(worker).minutes],
            };
            least_share(&days, needed, self.problem.unit)
        });
        let longest = by_limit.max().unwrap_or(Share::NONE);
        let single = self.problem.jobs.iter().filter(|job| job.urgency > weight).map(|job| self.alone(job));
        single.max().unwrap_or(Share::NONE).max(longest)
    }

    /// The least share of somebody who does this job.
    fn alone(&self, job: &Job) -> Share {
        let day = job.pinned.map(|worker| self.problem.workers.at(worker).minutes);
        let longest = || self.longest_day(job.required);
        Share::new(job.minutes, day.unwrap_or_else(longest))
    }

    fn longest_day(&self, clearance: u8) -> u64 {
        self.problem.workers.iter().filter(|worker| worker.clearance >= clearance).map(|worker| worker.minutes).max().unwrap_or_default()
    }

    /// Jobs to leave out so that the rest is within every limit, at little urgency.
    pub(super) fn left_out(&self, caps: &[u64]) -> Vec<bool> {
        let mut out = vec![false; self.problem.jobs.len()];
        for limit in &self.limits {
            let already: u64 = limit.knapsack.items().filter(|item| out.at(item.number)).map(|item| item.minutes).sum();
            let too_much = limit.demand.saturating_sub(already).saturating_sub(limit.who.sum(self.problem, caps));
            if too_much > 0 {
                let left = limit.knapsack.items().filter(|item| !out.at(item.number));
                for number in Knapsack::new(left).choose(too_much) {
                    out.put(number, true);
                }
            }
        }
        out
    }
}

impl Limit {
    fn new(who: Who, problem: &Problem, jobs: impl Iterator<Item = usize> + Clone) -> Self {
        let of = |number: usize| who.minutes_of(&problem.jobs.at(number));
        let item = |number: usize| Item { number, weight: problem.jobs.at(number).urgency, minutes: of(number) };
        Self { who, demand: jobs.clone().map(of).sum(), knapsack: Knapsack::new(jobs.map(item)) }
    }
}

/// The clearances at which fewer people are left, high to low; 0 is always one.
fn levels(problem: &Problem) -> Vec<u8> {
    let held: BTreeSet<u8> = problem.workers.iter().map(|worker| worker.clearance).collect();
    let above = held.into_iter().filter_map(|clearance| clearance.checked_add(1));
    let mut levels: Vec<u8> = std::iter::once(0)
        .chain(above)
        .filter(|level| problem.jobs.iter().any(|job| job.minutes_at(*level) > 0))
        .take(MOST_LEVELS)
        .collect();
    levels.reverse();
    levels
}

/// The least share at which people with these days can do so many minutes, in whole units.
fn least_share(days: &[u64], needed: u64, unit: u64) -> Share {
    let total: u64 = days.iter().sum();
    let mut share = Share::new(needed, total);
    let units = |day: u64, share: Share| share.of_minutes(day) / unit * unit;
    let mut room: u64 = days.iter().map(|day| units(*day, share)).sum();
    let mut next: BinaryHeap<Reverse<(Share, u64)>> =
        days.iter().filter(|day| **day > 0).map(|day| Reverse((Share::new(units(*day, share) + unit, *day), *day))).collect();
    while room < needed {
        let Some(Reverse((raised, day))) = next.pop() else { return share };
        share = raised;
        room += unit;
        next.push(Reverse((Share::new(units(day, raised) + unit, day), day)));
    }
    share
}
