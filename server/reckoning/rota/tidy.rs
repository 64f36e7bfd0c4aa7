//! Among rotas of equal weight and greatest share: as few changes from before as can be, then few racks a person.

use std::collections::BTreeSet;

use super::plan::Plan;
use super::problem::{Crew, Problem};
use crate::reckoning::cells::Cells;

/// The most changes that are tried.
const MOST_TRIES: u64 = 10_000_000;

/// The most duties of somebody that are tried in exchange for one.
const MOST_EXCHANGES: usize = 64;

/// The most jobs among which three are passed on in a ring; with more, two at a time do well enough.
const MOST_IN_RINGS: usize = 600;

/// The largest table of people by racks; with more, racks are not looked at.
const LARGEST_TABLE: usize = 4_000_000;

/// Exchanges jobs between people within the caps, so that fewer are moved and each person goes to fewer racks.
pub(super) fn tidy<'a>(plan: Plan<'a>, before: &[Crew], caps: &[u64]) -> Plan<'a> {
    let mut tidying = Tidying::new(plan, before, caps);
    let count = tidying.plan.crews.len();
    let mut helped = true;
    while helped && tidying.tries > 0 {
        helped = false;
        for number in 0..count {
            helped |= tidying.restore(number);
            helped |= tidying.gather(number);
        }
        if !helped && count <= MOST_IN_RINGS {
            helped = (0..count).any(|number| tidying.ring(number));
        }
    }
    tidying.plan
}

/// How many jobs have another crew than before, of those that had one.
pub(super) fn moved(plan: &Plan<'_>, before: &[Crew]) -> usize {
    plan.crews.iter().zip(before).filter(|(now, before)| **before != Crew::Nobody && now != before).count()
}

/// How much worse a plan gets by a change: in jobs moved, in racks of everybody added up, and in how little the jobs of
/// a rack are in one hand (minus the sum of the squares of jobs by person and rack).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
struct Worse {
    moved: i64,
    racks: i64,
    spread: i64,
}

/// A job that one worker gives to another.
#[derive(Clone, Copy)]
struct Pass {
    number: usize,
    from: usize,
    to: usize,
}

struct Tidying<'a, 'b> {
    plan: Plan<'a>,
    before: &'b [Crew],
    caps: &'b [u64],
    /// By worker: minutes and number of each job.
    hands: Vec<BTreeSet<(u64, usize)>>,
    counts: Counts,
    tries: u64,
}

/// How many jobs each worker has in each rack.
struct Counts {
    racks: usize,
    cells: Vec<u32>,
}

impl Counts {
    fn of(problem: &Problem) -> Self {
        let racks = problem.jobs.iter().map(|job| job.rack + 1).max().unwrap_or_default();
        let size = racks.checked_mul(problem.workers.len()).filter(|size| *size <= LARGEST_TABLE);
        Self { racks, cells: vec![0; size.unwrap_or_default()] }
    }

    fn at(&self, worker: usize, rack: usize) -> i64 {
        i64::from(Cells::at(&self.cells, worker * self.racks + rack))
    }

    fn add(&mut self, worker: usize, rack: usize, more: bool) {
        if let Some(cell) = self.cells.get_mut(worker * self.racks + rack) {
            *cell = if more { *cell + 1 } else { cell.saturating_sub(1) };
        }
    }

    /// How much worse it gets when a job of a rack goes from one worker to another.
    fn pass(&self, rack: usize, from: usize, to: usize) -> Worse {
        let (old, new) = (self.at(from, rack), self.at(to, rack));
        Worse { moved: 0, racks: i64::from(new == 0) - i64::from(old == 1), spread: 2 * (old - new - 1) }
    }
}

impl<'a, 'b> Tidying<'a, 'b> {
    fn new(plan: Plan<'a>, before: &'b [Crew], caps: &'b [u64]) -> Self {
        let hands = vec![BTreeSet::new(); plan.problem.workers.len()];
        let (crews, empty) = (plan.crews.clone(), Plan::new(plan.problem));
        let counts = Counts::of(plan.problem);
        let mut tidying = Self { plan: empty, before, caps, hands, counts, tries: MOST_TRIES };
        for (number, crew) in crews.into_iter().enumerate() {
            tidying.give(number, crew);
        }
        tidying
    }

    fn give(&mut self, number: usize, crew: Crew) {
        let job = self.plan.problem.jobs.at(number);
        for member in self.plan.crews.at(number).members() {
            self.counts.add(member, job.rack, false);
            self.hands.get_mut(member).map(|hand| hand.remove(&(job.minutes, number)));
        }
        for member in crew.members() {
            self.counts.add(member, job.rack, true);
            self.hands.get_mut(member).map(|hand| hand.insert((job.minutes, number)));
        }
        self.plan.give(number, crew);
    }

    /// Makes passes, all at once, if that is within the rules and better; whether they were made.
    fn make(&mut self, passes: &[Pass]) -> bool {
        self.tries = self.tries.saturating_sub(1);
        let mut worse = Worse::default();
        for pass in passes {
            let by_this = self.worse(*pass);
            worse.moved += by_this.moved;
            worse.racks += by_this.racks;
            worse.spread += by_this.spread;
            self.count(pass.number, pass.from, pass.to);
        }
        for pass in passes {
            self.count(pass.number, pass.to, pass.from);
        }
        if worse >= Worse::default() || !passes.iter().all(|pass| self.allowed(*pass) && self.fits(pass.to, passes)) {
            return false;
        }
        for pass in passes {
            self.give(pass.number, self.plan.crews.at(pass.number).with(pass.from, pass.to));
        }
        true
    }

    /// Counts a job out of one hand and into another.
    fn count(&mut self, number: usize, from: usize, to: usize) {
        let rack = self.plan.problem.jobs.at(number).rack;
        self.counts.add(from, rack, false);
        self.counts.add(to, rack, true);
    }

    /// Whether a worker is within the cap after passes.
    fn fits(&self, worker: usize, passes: &[Pass]) -> bool {
        let minutes = |pass: &Pass| self.plan.problem.jobs.at(pass.number).minutes;
        let comes: u64 = passes.iter().filter(|pass| pass.to == worker).map(minutes).sum();
        let goes: u64 = passes.iter().filter(|pass| pass.from == worker).map(minutes).sum();
        self.plan.loads.at(worker) + comes <= self.caps.at(worker) + goes
    }

    fn allowed(&self, pass: Pass) -> bool {
        let crew = self.plan.crews.at(pass.number);
        !crew.has(pass.to) && self.plan.problem.may_do(&self.plan.problem.jobs.at(pass.number), crew.with(pass.from, pass.to))
    }

    fn worse(&self, pass: Pass) -> Worse {
        let (crew, before) = (self.plan.crews.at(pass.number), self.before.at(pass.number));
        let worse = self.counts.pass(self.plan.problem.jobs.at(pass.number).rack, pass.from, pass.to);
        let moved = |crew: Crew| i64::from(before != Crew::Nobody && crew != before);
        Worse { moved: moved(crew.with(pass.from, pass.to)) - moved(crew), ..worse }
    }

    fn room(&self, worker: usize) -> u64 {
        self.caps.at(worker).saturating_sub(self.plan.loads.at(worker))
    }

    /// Gives a job back to those who had it before, if need be for another of theirs.
    fn restore(&mut self, number: usize) -> bool {
        let (now, before) = (self.plan.crews.at(number), self.before.at(number));
        if now == Crew::Nobody || before == Crew::Nobody || now == before {
            return false;
        }
        let minutes = self.plan.problem.jobs.at(number).minutes;
        let mut new = before.members().filter(|member| !now.has(*member));
        if new.all(|member| self.room(member) >= minutes) {
            self.give(number, before);
            return true;
        }
        let from = now.members().find(|member| !before.has(*member));
        let to = before.members().find(|member| !now.has(*member));
        from.zip(to).is_some_and(|(from, to)| self.pass_on(Pass { number, from, to }))
    }

    /// Gives a job to somebody else who goes to its rack anyway, if need be for another of theirs.
    fn gather(&mut self, number: usize) -> bool {
        let crew = self.plan.crews.at(number);
        let rack = self.plan.problem.jobs.at(number).rack;
        for from in crew.members() {
            for to in 0..self.plan.loads.len() {
                if self.tries == 0 {
                    return false;
                }
                self.tries -= 1;
                let goes_there = self.counts.at(to, rack) > 0;
                if goes_there && !crew.has(to) && self.pass_on(Pass { number, from, to }) {
                    return true;
                }
            }
        }
        false
    }

    /// Passes a job on, if need be with another coming back.
    fn pass_on(&mut self, pass: Pass) -> bool {
        if self.make(&[pass]) {
            return true;
        }
        let theirs = self.could_follow(pass, pass.from, self.plan.problem.jobs.at(pass.number).minutes);
        theirs.into_iter().any(|number| self.make(&[pass, Pass { number, from: pass.to, to: pass.from }]))
    }

    /// Jobs of whoever a job is passed to that could go to another, who gives away so many minutes, without too many
    /// minutes for either.
    fn could_follow(&self, pass: Pass, other: usize, given_away: u64) -> Vec<usize> {
        let minutes = self.plan.problem.jobs.at(pass.number).minutes;
        let (least, most) = (minutes.saturating_sub(self.room(pass.to)), self.room(other).saturating_add(given_away));
        let hand = self.hands.get(pass.to).filter(|_| least <= most);
        let range = hand.into_iter().flat_map(|hand| hand.range((least, 0)..=(most, usize::MAX)));
        range.map(|(_, number)| *number).take(MOST_EXCHANGES).collect()
    }

    /// Passes three jobs on in a ring, each to somebody who goes to its rack anyway.
    fn ring(&mut self, number: usize) -> bool {
        let crew = self.plan.crews.at(number);
        let everybody = self.plan.loads.len();
        for from in crew.members() {
            for to in (0..everybody).filter(|to| !crew.has(*to)) {
                let first = Pass { number, from, to };
                if self.goes_there(first) && (0..everybody).any(|third| third != from && third != to && self.ring_by(first, third)) {
                    return true;
                }
            }
        }
        false
    }

    /// The ring through a third.
    fn ring_by(&mut self, first: Pass, third: usize) -> bool {
        let minutes = |tidying: &Self, number: usize| tidying.plan.problem.jobs.at(number).minutes;
        let theirs: Vec<(u64, usize)> = self.hands.get(first.to).into_iter().flatten().copied().take(MOST_EXCHANGES).collect();
        for (_, number) in theirs {
            let second = Pass { number, from: first.to, to: third };
            let needed = minutes(self, first.number).saturating_sub(self.room(first.to));
            if minutes(self, number) < needed || !self.goes_there(second) {
                continue;
            }
            for number in self.could_follow(second, first.from, minutes(self, first.number)) {
                if self.tries == 0 {
                    return false;
                }
                let last = Pass { number, from: third, to: first.from };
                if self.goes_there(last) && self.make(&[first, second, last]) {
                    return true;
                }
            }
        }
        false
    }

    /// Whether the one a job is passed to goes to its rack already.
    fn goes_there(&self, pass: Pass) -> bool {
        self.counts.at(pass.to, self.plan.problem.jobs.at(pass.number).rack) > 0
    }
}
