//! A complete search for small rotas.
//!
//! It goes through the duties, long ones first, and tries every crew for each. A branch is given up when the minutes
//! that are still to be done at some clearance can't fit, or when the same room was left at the same duty before.

use std::collections::HashMap;

use super::plan::Plan;
use super::problem::{Crew, Problem};
use crate::reckoning::cells::Cells;

mod tables;

use tables::Tables;

/// The most people of a small rota.
const MOST_WORKERS: usize = 12;

/// The most duties of a small rota.
const MOST_JOBS: usize = 200;

/// Minutes left by worker, in units of the problem.
type Room = [u32; MOST_WORKERS];

/// What a search came to.
pub(super) enum Found<'a> {
    /// This.
    Plan(Plan<'a>),
    /// There is none.
    Nothing,
    /// The search was given up before its end.
    GivenUp,
}

/// A search through all rotas of a small problem.
pub(super) struct Search<'a> {
    problem: &'a Problem,
    /// The jobs in the order in which they are given out.
    order: Vec<usize>,
    /// How many at the start of the order are pinned.
    pinned: usize,
    tables: Tables,
    /// All crews of each job of the order.
    crews: Vec<Vec<Crew>>,
    /// The crew to try first for each job of the order.
    before: Vec<Crew>,
    /// Where the rest can't be given out: the greatest weight for which this is known.
    dead: HashMap<(usize, Room), u64>,
    /// How many more steps may be taken.
    steps: u64,
}

impl<'a> Search<'a> {
    /// A search, for problems that are small enough.
    pub(super) fn new(problem: &'a Problem) -> Option<Self> {
        let longest = problem.workers.iter().map(|worker| worker.minutes / problem.unit).max().unwrap_or_default();
        if problem.jobs.len() > MOST_JOBS || problem.workers.len() > MOST_WORKERS || u32::try_from(longest).is_err() {
            return None;
        }
        let mut order: Vec<usize> = (0..problem.jobs.len()).collect();
        order.sort_by_key(|number| {
            let job = problem.jobs.at(*number);
            std::cmp::Reverse((
                job.pinned.is_some(),
                job.minutes * if job.two { 2 } else { 1 },
                job.required,
                job.two,
                job.urgency,
                job.kind,
                *number,
            ))
        });
        let pinned = order.iter().filter(|number| problem.jobs.at(**number).pinned.is_some()).count();
        let tables = Tables::new(problem, &order);
        let crews = order.iter().map(|number| crews(problem, *number)).collect();
        Some(Self { problem, order, pinned, tables, crews, before: Vec::new(), dead: HashMap::new(), steps: 0 })
    }

    /// A rota within caps and of at most a weight, in so many steps, which are used up. The crews that jobs had before
    /// are tried first.
    pub(super) fn find(&mut self, caps: &[u64], weight: u64, before: &[Crew], steps: &mut u64) -> Found<'a> {
        self.steps = *steps;
        self.before = self.order.iter().map(|number| before.at(*number)).collect();
        let mut room = Room::default();
        for (worker, cap) in caps.iter().enumerate() {
            room.put(worker, u32::try_from(cap / self.problem.unit).unwrap_or(u32::MAX));
        }
        let mut chosen = vec![Crew::Nobody; self.order.len()];
        let found = self.descend(0, room, weight, &mut chosen);
        *steps = self.steps;
        match found {
            Some(true) => {
                let mut plan = Plan::new(self.problem);
                for (number, crew) in self.order.iter().zip(chosen) {
                    plan.give(*number, crew);
                }
                Found::Plan(plan)
            }
            Some(false) => Found::Nothing,
            None => Found::GivenUp,
        }
    }

    /// Gives out the jobs from a place of the order on; `None` when out of steps.
    fn descend(&mut self, depth: usize, room: Room, spare: u64, chosen: &mut Vec<Crew>) -> Option<bool> {
        let Some(number) = self.order.get(depth).copied() else { return Some(true) };
        self.steps = self.steps.checked_sub(1)?;
        let useful = self.tables.useful(self.problem, depth, room);
        if !self.tables.could_fit(self.problem, depth, &useful, spare) {
            return Some(false);
        }
        let key = (depth, self.alike(depth, useful));
        if self.dead.get(&key).is_some_and(|known| *known >= spare) {
            return Some(false);
        }
        let job = self.problem.jobs.at(number);
        let minutes = u32::try_from(job.minutes / self.problem.unit).unwrap_or(u32::MAX);
        let mut crews: Vec<(u32, Crew)> = Vec::new();
        for crew in self.crews.get(depth).into_iter().flatten() {
            let least = crew.members().map(|member| room.at(member)).min().unwrap_or_default();
            if least >= minutes {
                crews.push((least, *crew));
            }
        }
        let before = self.before.at(depth);
        crews.sort_by_key(|(least, crew)| (*crew != before, std::cmp::Reverse(*least)));
        for (_, crew) in crews {
            let mut left = room;
            for member in crew.members() {
                left.put(member, room.at(member) - minutes);
            }
            chosen.put(depth, crew);
            if self.descend(depth + 1, left, spare, chosen)? {
                return Some(true);
            }
        }
        if let Some(spare) = spare.checked_sub(job.urgency) {
            chosen.put(depth, Crew::Nobody);
            if self.descend(depth + 1, room, spare, chosen)? {
                return Some(true);
            }
        }
        self.dead.entry(key).and_modify(|known| *known = spare.max(*known)).or_insert(spare);
        Some(false)
    }

    /// The same room for all states that differ only in which of two people with equal clearance is which.
    fn alike(&self, depth: usize, room: Room) -> Room {
        if depth < self.pinned {
            return room;
        }
        let mut sorted: [(u8, u32); MOST_WORKERS] = [(u8::MAX, 0); MOST_WORKERS];
        for ((cell, worker), left) in sorted.iter_mut().zip(&self.problem.workers).zip(room) {
            *cell = (worker.clearance, left);
        }
        if let Some(used) = sorted.get_mut(..self.problem.workers.len()) {
            used.sort_unstable();
        }
        sorted.map(|(_, left)| left)
    }
}

/// All crews that may do a job.
fn crews(problem: &Problem, number: usize) -> Vec<Crew> {
    let job = problem.jobs.at(number);
    let workers = 0..problem.workers.len();
    let mut crews: Vec<Crew> = if job.two {
        workers.clone().flat_map(|one| workers.clone().skip(one + 1).map(move |other| Crew::two(one, other))).collect()
    } else {
        workers.map(Crew::One).collect()
    };
    crews.retain(|crew| problem.may_do(&job, *crew));
    crews
}
