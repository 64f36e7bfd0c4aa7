//! A first rota: the hardest duties first, each to whoever then has the least share.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::plan::Plan;
use super::problem::{Crew, Job, Problem};
use super::share::Share;
use crate::reckoning::cells::Cells;

/// The most people of one clearance who are looked at for a duty.
const MOST_LOOKED_AT: usize = 64;

/// Gives out every job that nobody has and that is not left out, as far as the caps let it.
pub(super) fn fill(plan: &mut Plan<'_>, caps: &[u64], left_out: &[bool]) {
    let mut ranks = Ranks::of(plan);
    for number in hardest_first(plan.problem) {
        if left_out.at(number) || plan.crews.at(number) != Crew::Nobody {
            continue;
        }
        let crew = ranks.crew(plan, caps, number);
        ranks.leave(plan, crew);
        plan.give(number, crew);
        ranks.enter(plan, crew);
    }
}

/// Pinned jobs, then by clearance, for two before for one, long before short, urgent before others.
pub(super) fn hardest_first(problem: &Problem) -> Vec<usize> {
    let key = |job: &Job| Reverse((job.pinned.is_some(), job.required, job.two, job.minutes, job.urgency));
    let mut order: Vec<usize> = (0..problem.jobs.len()).collect();
    order.sort_by_key(|number| (key(&problem.jobs.at(*number)), *number));
    order
}

/// The workers by clearance, those with the least share first.
struct Ranks(BTreeMap<u8, BTreeSet<(Share, usize)>>);

impl Ranks {
    fn of(plan: &Plan<'_>) -> Self {
        let mut ranks = Self(BTreeMap::new());
        for (number, worker) in plan.problem.workers.iter().enumerate() {
            ranks.0.entry(worker.clearance).or_default().insert((share(plan, number, 0), number));
        }
        ranks
    }

    fn leave(&mut self, plan: &Plan<'_>, crew: Crew) {
        for member in crew.members() {
            if let Some(rank) = self.0.get_mut(&plan.problem.workers.at(member).clearance) {
                rank.remove(&(share(plan, member, 0), member));
            }
        }
    }

    fn enter(&mut self, plan: &Plan<'_>, crew: Crew) {
        for member in crew.members() {
            self.0.entry(plan.problem.workers.at(member).clearance).or_default().insert((share(plan, member, 0), member));
        }
    }

    /// The crew for a job that ends with the least share, within the caps.
    fn crew(&self, plan: &Plan<'_>, caps: &[u64], number: usize) -> Crew {
        let job = plan.problem.jobs.at(number);
        let fits = |worker: usize| plan.loads.at(worker) + job.minutes <= caps.at(worker);
        let crew = match job.pinned {
            Some(pinned) if !fits(pinned) => Crew::Nobody,
            Some(pinned) if job.two => {
                let needed = if plan.problem.workers.at(pinned).clearance >= job.required { job.second() } else { job.required };
                self.least(plan, caps, job.minutes, needed, Some(pinned)).map_or(Crew::Nobody, |other| Crew::two(pinned, other))
            }
            Some(pinned) => Crew::One(pinned),
            None => match self.least(plan, caps, job.minutes, job.required, None) {
                Some(first) if job.two => {
                    let second = self.least(plan, caps, job.minutes, job.second(), Some(first));
                    second.map_or(Crew::Nobody, |second| Crew::two(first, second))
                }
                first => first.map_or(Crew::Nobody, Crew::One),
            },
        };
        if plan.problem.may_do(&job, crew) { crew } else { Crew::Nobody }
    }

    fn least(&self, plan: &Plan<'_>, caps: &[u64], minutes: u64, clearance: u8, but: Option<usize>) -> Option<usize> {
        let looked_at = self.0.range(clearance..).flat_map(|(_, rank)| rank.iter().take(MOST_LOOKED_AT)).map(|(_, worker)| *worker);
        looked_at
            .filter(|worker| Some(*worker) != but && plan.loads.at(*worker) + minutes <= caps.at(*worker))
            .min_by_key(|worker| (share(plan, *worker, minutes), *worker))
    }
}

/// The share of a worker with so many minutes more.
fn share(plan: &Plan<'_>, worker: usize, more: u64) -> Share {
    Share::new(plan.loads.at(worker) + more, plan.problem.workers.at(worker).minutes)
}
