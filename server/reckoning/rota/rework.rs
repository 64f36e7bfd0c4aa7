//! Sharing out a few duties of a few people anew, completely, where moving one or two does not help.

use super::desk::{Desk, Held, Relief};
use super::exact::{Found, Search};
use super::problem::{Crew, Job, Problem, Worker};
use crate::reckoning::cells::Cells;

/// How many people give up duties at once.
const PEOPLE: usize = 4;

/// How many duties each of them gives up.
const DUTIES_EACH: usize = 7;

/// How many unassigned duties are looked at beside them.
const IDLE: usize = 5;

/// How many groups of people are tried.
const GROUPS: usize = 6;

/// Steps of the complete search for one group.
const STEPS: u64 = 3_000;

/// What one group costs in looks.
const LOOKS: u64 = 2_000;

impl Desk<'_> {
    /// Shares out a few duties of somebody who has too much, and of a few others, so that none of them has; may leave
    /// out duties of so much urgency in all. Whether it could.
    pub(super) fn rework(&mut self, relief: Relief<'_>, spend: &mut u64) -> bool {
        let mut others: Vec<usize> = (0..self.plan.loads.len()).filter(|worker| self.room(*worker, relief.caps) > 0).collect();
        others.sort_by_key(|worker| (std::cmp::Reverse(self.room(*worker, relief.caps)), *worker));
        for round in 0..GROUPS {
            if self.looks < LOOKS {
                return false;
            }
            self.looks -= LOOKS;
            let skipped = round * (PEOPLE - 1) % others.len().max(1);
            let group =
                std::iter::once(relief.worker).chain(others.iter().cycle().skip(skipped).copied().take(others.len().min(PEOPLE - 1)));
            if self.rework_group(&group.collect::<Vec<usize>>(), relief.caps, round, spend) {
                return true;
            }
        }
        false
    }

    fn rework_group(&mut self, group: &[usize], caps: &[u64], round: usize, spend: &mut u64) -> bool {
        let numbers = self.given_up(group, round);
        let problem = self.small_problem(group, caps, &numbers);
        let idle = |(number, crew): (&usize, Crew)| if crew == Crew::Nobody { self.plan.problem.jobs.at(*number).urgency } else { 0 };
        let before: u64 = numbers.iter().map(|number| idle((number, self.plan.crews.at(*number)))).sum();
        let Some(mut search) = Search::new(&problem) else { return false };
        let Found::Plan(found) = search.find(&problem.minutes(), before + *spend, &[], &mut { STEPS }) else { return false };
        let after: u64 = numbers.iter().zip(found.crews.iter().copied()).map(idle).sum();
        *spend = spend.saturating_sub(after.saturating_sub(before));
        for (number, crew) in numbers.iter().zip(&found.crews) {
            let crew = match *crew {
                Crew::Nobody => Crew::Nobody,
                Crew::One(one) => Crew::One(group.at(one)),
                Crew::Two(one, other) => Crew::two(group.at(one), group.at(other)),
            };
            self.give(*number, crew);
        }
        true
    }

    /// The duties that a group gives up, spread over their lengths, and some that nobody has.
    fn given_up(&self, group: &[usize], round: usize) -> Vec<usize> {
        let mut numbers: Vec<usize> = Vec::new();
        let within = |number: usize| self.plan.crews.at(number).members().all(|member| group.contains(&member));
        let pinned_within = |number: usize| self.plan.problem.jobs.at(number).pinned.is_none_or(|pinned| group.contains(&pinned));
        for worker in group {
            let hand: Vec<Held> = self.hands.get(*worker).map(|hand| Self::kinds(hand, 500)).unwrap_or_default();
            let able: Vec<usize> = hand.into_iter().map(|(_, _, number)| number).filter(|number| within(*number)).collect();
            numbers.extend(spread(&able, DUTIES_EACH, round));
        }
        let idle: Vec<usize> =
            Self::kinds(&self.idle, 500).into_iter().map(|(_, _, number)| number).filter(|number| pinned_within(*number)).collect();
        numbers.extend(spread(&idle, IDLE, round));
        numbers.sort_unstable();
        numbers.dedup();
        numbers
    }

    /// The problem of sharing out these duties in the minutes that a group has beside its other duties.
    fn small_problem(&self, group: &[usize], caps: &[u64], numbers: &[usize]) -> Problem {
        let minutes_left = |worker: usize| {
            let given_up = numbers.iter().filter(|number| self.plan.crews.at(**number).has(worker));
            let given_up: u64 = given_up.map(|number| self.plan.problem.jobs.at(*number).minutes).sum();
            (caps.at(worker) + given_up).saturating_sub(self.plan.loads.at(worker))
        };
        let workers =
            group.iter().map(|worker| Worker { minutes: minutes_left(*worker), ..self.plan.problem.workers.at(*worker) }).collect();
        let job = |number: &usize| {
            let job = self.plan.problem.jobs.at(*number);
            Job { pinned: job.pinned.and_then(|pinned| group.iter().position(|worker| *worker == pinned)), ..job }
        };
        Problem { workers, jobs: numbers.iter().map(job).collect(), unit: self.plan.problem.unit }
    }
}

/// So many of a list, evenly spaced, in each round others.
fn spread(numbers: &[usize], count: usize, round: usize) -> impl Iterator<Item = usize> {
    let step = numbers.len().div_ceil(count).max(1);
    numbers.iter().copied().skip(round % step).step_by(step)
}
