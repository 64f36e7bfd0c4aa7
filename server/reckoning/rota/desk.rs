//! Moving duties between people, one or two at a time, until nobody has too much.

use std::collections::BTreeSet;

use super::plan::Plan;
use super::problem::{Crew, Job};
use crate::reckoning::cells::Cells;

/// A job in somebody's hands: its minutes, its kind, its number.
pub(super) type Held = (u64, usize, usize);

/// A plan whose jobs can be found by who has them and how long they take.
#[derive(Clone)]
pub(super) struct Desk<'a> {
    pub(super) plan: Plan<'a>,
    pub(super) hands: Vec<BTreeSet<Held>>,
    /// Jobs that nobody has.
    pub(super) idle: BTreeSet<Held>,
    /// How many more jobs and people may be looked at.
    pub(super) looks: u64,
    /// What was changed since the last mark: job and crew before.
    changed: Vec<(usize, Crew)>,
}

/// A change of one or two jobs that takes something off somebody who has too much.
#[derive(Debug, Clone, Copy)]
struct Step {
    /// By how much there is less too much in all.
    gain: u64,
    first: (usize, Crew),
    second: Option<(usize, Crew)>,
}

/// Somebody who has too much, and how much may be done about it.
#[derive(Clone, Copy)]
pub(super) struct Relief<'c> {
    pub(super) worker: usize,
    /// Minutes too many.
    excess: u64,
    pub(super) caps: &'c [u64],
}

impl<'a> Desk<'a> {
    pub(super) fn new(plan: Plan<'a>) -> Self {
        let mut hands = vec![BTreeSet::new(); plan.problem.workers.len()];
        let mut idle = BTreeSet::new();
        for (number, (job, crew)) in plan.problem.jobs.iter().zip(&plan.crews).enumerate() {
            let held = (job.minutes, job.kind, number);
            for hand in crew.members() {
                hands.get_mut(hand).map(|hand: &mut BTreeSet<Held>| hand.insert(held));
            }
            if *crew == Crew::Nobody {
                idle.insert(held);
            }
        }
        Self { plan, hands, idle, looks: 0, changed: Vec::new() }
    }

    /// Allows so many looks.
    pub(super) fn allow(&mut self, looks: u64) {
        self.looks = looks;
    }

    pub(super) fn give(&mut self, number: usize, crew: Crew) {
        let job = self.plan.problem.jobs.at(number);
        let held = (job.minutes, job.kind, number);
        let before = self.plan.crews.at(number);
        self.changed.push((number, before));
        for member in before.members() {
            self.hands.get_mut(member).map(|hand| hand.remove(&held));
        }
        for member in crew.members() {
            self.hands.get_mut(member).map(|hand| hand.insert(held));
        }
        if crew == Crew::Nobody {
            self.idle.insert(held);
        } else {
            self.idle.remove(&held);
        }
        self.plan.give(number, crew);
    }

    /// Takes back what was changed since so many changes.
    fn take_back(&mut self, mark: usize) {
        while self.changed.len() > mark {
            if let Some((number, before)) = self.changed.pop() {
                self.give(number, before);
                self.changed.pop();
            }
        }
    }

    pub(super) fn room(&self, worker: usize, caps: &[u64]) -> u64 {
        caps.at(worker).saturating_sub(self.plan.loads.at(worker))
    }

    /// One job of each kind in a set, long ones first; of at most so many kinds.
    pub(super) fn kinds(set: &BTreeSet<Held>, most: usize) -> Vec<Held> {
        let mut kinds = Vec::new();
        let mut last = set.last();
        while let Some(held) = last.filter(|_| kinds.len() < most) {
            kinds.push(*held);
            last = set.range(..(held.0, held.1, 0)).next_back();
        }
        kinds
    }

    /// Gives unassigned jobs to people, the urgent ones first, making room by moving others or by leaving less urgent
    /// ones out, until the weight is down to `enough`, or nothing helps, or all looks are used up.
    pub(super) fn take_in(&mut self, caps: &[u64], enough: u64, looks: u64, looks_each: u64) {
        let mut left = looks;
        let mut helped = true;
        while helped && self.plan.weight > enough {
            helped = false;
            let mut waiting = Self::kinds(&self.idle, 100_000);
            waiting.sort_by_key(|(minutes, _, number)| (std::cmp::Reverse(self.plan.problem.jobs.at(*number).urgency), *minutes, *number));
            for (_, _, number) in waiting {
                if left == 0 || self.plan.weight <= enough {
                    return;
                }
                if self.plan.crews.at(number) == Crew::Nobody {
                    self.looks = looks_each.min(left);
                    left -= self.looks;
                    helped |= self.insert(number, caps);
                    left += self.looks;
                }
            }
        }
    }

    /// Gives one job to somebody, if that can be done with less left out in all.
    fn insert(&mut self, number: usize, caps: &[u64]) -> bool {
        let urgency = self.plan.problem.jobs.at(number).urgency;
        if urgency == 0 {
            return false;
        }
        self.looks = self.looks.saturating_sub(self.plan.loads.len() as u64);
        for crew in self.crews_for(number, caps) {
            let mark = self.changed.len();
            self.give(number, crew);
            if self.relieve(caps, urgency - 1) {
                self.changed.clear();
                return true;
            }
            self.take_back(mark);
        }
        false
    }

    /// Crews that may do a job, those with most room first; at most a few.
    fn crews_for(&self, number: usize, caps: &[u64]) -> Vec<Crew> {
        const A_FEW: usize = 8;
        let job = self.plan.problem.jobs.at(number);
        let mut workers: Vec<usize> = (0..self.plan.loads.len()).filter(|worker| caps.at(*worker) >= job.minutes).collect();
        workers.sort_by_key(|worker| (std::cmp::Reverse(self.room(*worker, caps)), *worker));
        let allowed = |crew: &Crew| self.plan.problem.may_do(&job, *crew);
        if !job.two {
            return workers.into_iter().map(Crew::One).filter(allowed).take(A_FEW).collect();
        }
        let pairs = workers.iter().enumerate().flat_map(|(at, one)| workers.iter().take(at).map(|other| Crew::two(*one, *other)));
        pairs.take(100_000).filter(allowed).take(A_FEW).collect()
    }

    /// Moves jobs until every load is within its cap; may leave out jobs of so much urgency in all. Whether it could.
    pub(super) fn relieve(&mut self, caps: &[u64], spend: u64) -> bool {
        let mut spend = spend;
        while let Some(relief) = self.fullest(caps) {
            let step = self.best_step(relief);
            if step.is_none() && self.rework(relief, &mut spend) {
                continue;
            }
            let Some(step) = step.or_else(|| self.drop_step(relief, &mut spend)) else { return false };
            self.give(step.first.0, step.first.1);
            if let Some((number, crew)) = step.second {
                self.give(number, crew);
            }
        }
        true
    }

    /// Whoever has most too many minutes.
    fn fullest<'c>(&mut self, caps: &'c [u64]) -> Option<Relief<'c>> {
        let over = self.plan.loads.iter().zip(caps).enumerate();
        let over = over.map(|(worker, (load, cap))| (load.saturating_sub(*cap), worker)).filter(|(excess, _)| *excess > 0);
        self.looks = self.looks.saturating_sub(self.plan.loads.len() as u64 / 8);
        over.max_by_key(|(excess, worker)| (*excess, std::cmp::Reverse(*worker))).map(|(excess, worker)| Relief { worker, excess, caps })
    }

    /// The change that helps most; the first of equal ones.
    fn best_step(&mut self, relief: Relief<'_>) -> Option<Step> {
        let mut best: Option<Step> = None;
        let kinds = self.hands.get(relief.worker).map(|hand| Self::kinds(hand, 5_000)).unwrap_or_default();
        let idle = Self::kinds(&self.idle, 256);
        for (_, _, number) in kinds {
            let job = self.plan.problem.jobs.at(number);
            for other in 0..self.plan.loads.len() {
                if self.looks == 0 {
                    return best;
                }
                self.looks -= 1;
                best = better(best, self.hand_over(relief, number, &job, other));
                if best.is_some_and(|best| best.gain == relief.excess) {
                    return best;
                }
            }
            best = better(best, self.exchange(relief, number, &job, &idle));
        }
        best
    }

    /// Hands a job over to somebody else, for another of theirs if need be.
    fn hand_over(&mut self, relief: Relief<'_>, number: usize, job: &Job, other: usize) -> Option<Step> {
        let crew = self.plan.crews.at(number);
        if crew.has(other) || !self.plan.problem.may_do(job, crew.with(relief.worker, other)) {
            return None;
        }
        let first = (number, crew.with(relief.worker, other));
        let room = self.room(other, relief.caps);
        let moved = gain(job.minutes, relief.excess, room).map(|gain| Step { gain, first, second: None });
        if moved.is_some_and(|step| step.gain == relief.excess) {
            return moved;
        }
        let ideal = job.minutes.saturating_sub(relief.excess.min(room));
        let hand = self.hands.get(other)?;
        let longer = hand.range((ideal, 0, 0)..(job.minutes, 0, 0));
        let shorter = hand.range(..(ideal, 0, 0)).rev();
        let mut looked = 0;
        let mut swap = |held: &Held| {
            looked += 1;
            let gain = gain(job.minutes - held.0, relief.excess, room)?;
            let theirs = self.plan.crews.at(held.2);
            let swapped = theirs.with(other, relief.worker);
            let allowed = !theirs.has(relief.worker) && self.plan.problem.may_do(&self.plan.problem.jobs.at(held.2), swapped);
            allowed.then_some(Step { gain, first, second: Some((held.2, swapped)) })
        };
        let step = better(moved, longer.take(64).find_map(&mut swap));
        let step = better(step, shorter.take(64).find_map(&mut swap));
        self.looks = self.looks.saturating_sub(looked);
        step
    }

    /// Leaves a job out, and takes in another at least as urgent that fits better.
    fn exchange(&mut self, relief: Relief<'_>, number: usize, job: &Job, idle: &[Held]) -> Option<Step> {
        let crew = self.plan.crews.at(number);
        let mut best = None;
        for (minutes, _, instead) in idle {
            if self.looks == 0 {
                break;
            }
            self.looks -= 1;
            let other = self.plan.problem.jobs.at(*instead);
            if other.urgency < job.urgency {
                continue;
            }
            if *minutes < job.minutes && self.plan.problem.may_do(&other, crew) {
                let gain = relief.excess.min(job.minutes - minutes);
                best = better(best, Some(Step { gain, first: (number, Crew::Nobody), second: Some((*instead, crew)) }));
            }
            let elsewhere = (0..self.plan.loads.len()).map(Crew::One).find(|one| {
                let has_room = one.members().all(|worker| worker != relief.worker && self.room(worker, relief.caps) >= *minutes);
                has_room && self.plan.problem.may_do(&other, *one)
            });
            if let Some(one) = elsewhere {
                let gain = relief.excess.min(job.minutes);
                best = better(best, Some(Step { gain, first: (number, Crew::Nobody), second: Some((*instead, one)) }));
            }
        }
        best
    }

    /// Leaves out the least urgent job of somebody who has too much, if so much urgency may be left out.
    fn drop_step(&mut self, relief: Relief<'_>, spend: &mut u64) -> Option<Step> {
        let hand = self.hands.get(relief.worker).filter(|_| self.looks > 0)?.iter();
        self.looks = self.looks.saturating_sub(1 + hand.len() as u64 / 8);
        let jobs =
            hand.map(|(minutes, _, number)| (self.plan.problem.jobs.at(*number).urgency, relief.excess.saturating_sub(*minutes), *number));
        let (urgency, short, number) =
            jobs.filter(|(urgency, _, _)| urgency <= spend).min_by_key(|(urgency, short, number)| (*short, *urgency, *number))?;
        *spend -= urgency;
        Some(Step { gain: relief.excess - short, first: (number, Crew::Nobody), second: None })
    }
}

/// By how much less too much there is when so many minutes go from somebody with an excess to somebody with room;
/// nothing if there is no less.
fn gain(minutes: u64, excess: u64, room: u64) -> Option<u64> {
    minutes.min(excess).checked_sub(minutes.saturating_sub(room)).filter(|gain| *gain > 0)
}

/// The step that gains more; the first of equal ones.
fn better(one: Option<Step>, other: Option<Step>) -> Option<Step> {
    match (one, other) {
        (Some(one), Some(other)) if other.gain > one.gain => Some(other),
        (one, other) => one.or(other),
    }
}
