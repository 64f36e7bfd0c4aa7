//! The rota as numbers: who is in, what can be done at all, and the rules.

use std::collections::BTreeMap;

use super::{Duty, Person};
use crate::reckoning::cells::Cells;

/// Somebody who is in today.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Worker {
    pub(super) clearance: u8,
    pub(super) minutes: u64,
}

/// A duty that somebody who is in today could do, if they had nothing else to do.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Job {
    pub(super) minutes: u64,
    /// The clearance that one of those who do it must have.
    pub(super) required: u8,
    /// Whether it takes two.
    pub(super) two: bool,
    pub(super) urgency: u64,
    /// The worker that must be among those who do it.
    pub(super) pinned: Option<usize>,
    pub(super) rack: usize,
    /// Jobs of a kind differ in their racks only. A job for two is the only one of its kind.
    pub(super) kind: usize,
}

impl Job {
    /// The clearance that the second person must have.
    pub(super) fn second(&self) -> u8 {
        self.required.saturating_sub(1)
    }

    /// How many of its minutes can be taken only by people of a clearance or above.
    pub(super) fn minutes_at(&self, clearance: u8) -> u64 {
        let people = u64::from(self.required >= clearance) + u64::from(self.two && self.second() >= clearance);
        self.minutes * people
    }
}

/// Who does a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Crew {
    /// It is unassigned.
    #[default]
    Nobody,
    /// One worker.
    One(usize),
    /// Two, the lower number first.
    Two(usize, usize),
}

impl Crew {
    pub(super) fn two(one: usize, other: usize) -> Self {
        Self::Two(one.min(other), one.max(other))
    }

    pub(super) fn members(self) -> impl Iterator<Item = usize> + Clone {
        let (first, second) = match self {
            Self::Nobody => (None, None),
            Self::One(one) => (Some(one), None),
            Self::Two(one, other) => (Some(one), Some(other)),
        };
        first.into_iter().chain(second)
    }

    pub(super) fn has(self, worker: usize) -> bool {
        self.members().any(|member| member == worker)
    }

    /// The same crew with one worker in place of another.
    pub(super) fn with(self, out: usize, instead: usize) -> Self {
        let swap = |worker: usize| if worker == out { instead } else { worker };
        match self {
            Self::Nobody => Self::Nobody,
            Self::One(one) => Self::One(swap(one)),
            Self::Two(one, other) => Self::two(swap(one), swap(other)),
        }
    }
}

/// The workers and the jobs.
#[derive(Debug)]
pub(super) struct Problem {
    pub(super) workers: Vec<Worker>,
    pub(super) jobs: Vec<Job>,
    /// Every duration is a multiple of this.
    pub(super) unit: u64,
}

impl Problem {
    /// The problem of people who are in and duties, both in the order of their ids; beside it, for each duty the number
    /// of its job, or nothing if nobody could ever do it.
    pub(super) fn new(people: &[&Person], duties: &[&Duty]) -> (Self, Vec<Option<usize>>) {
        let workers: Vec<Worker> =
            people.iter().map(|person| Worker { clearance: person.clearance, minutes: u64::from(person.minutes) }).collect();
        let numbers: BTreeMap<&str, usize> = people.iter().enumerate().map(|(number, person)| (person.id.as_str(), number)).collect();
        let longest = Longest::of(&workers);
        let mut racks: BTreeMap<&str, usize> = BTreeMap::new();
        let mut kinds: BTreeMap<_, usize> = BTreeMap::new();
        let mut problem = Self { workers, jobs: Vec::new(), unit: 0 };
        let mut jobs = Vec::with_capacity(duties.len());
        for duty in duties {
            let pinned = duty.pinned_to.as_deref().map(|id| numbers.get(id).copied());
            let next_rack = racks.len();
            let mut job = Job {
                minutes: u64::from(duty.minutes),
                required: duty.required_clearance,
                two: duty.people == 2,
                urgency: u64::from(duty.urgency),
                pinned: pinned.flatten(),
                rack: *racks.entry(&duty.rack).or_insert(next_rack),
                kind: 0,
            };
            let can_be_done = pinned != Some(None) && longest.allows(&problem.workers, &job);
            jobs.push(can_be_done.then_some(problem.jobs.len()));
            if can_be_done {
                let next_kind = kinds.len();
                job.kind = *kinds
                    .entry((job.minutes, job.required, job.urgency, job.pinned, job.two.then_some(problem.jobs.len())))
                    .or_insert(next_kind);
                problem.unit = common_divisor(problem.unit, job.minutes);
                problem.jobs.push(job);
            }
        }
        problem.unit = problem.unit.max(1);
        (problem, jobs)
    }

    /// Whether a crew may do a job, by clearance and pin; minutes are not looked at.
    pub(super) fn may_do(&self, job: &Job, crew: Crew) -> bool {
        let clearance = |worker: usize| self.workers.get(worker).map(|worker| worker.clearance);
        let cleared = match crew {
            Crew::Nobody => return true,
            Crew::One(one) => !job.two && clearance(one).is_some_and(|one| one >= job.required),
            Crew::Two(one, other) => {
                let both = clearance(one).zip(clearance(other));
                job.two && one != other && both.is_some_and(|(one, other)| one.max(other) >= job.required && one.min(other) >= job.second())
            }
        };
        cleared && job.pinned.is_none_or(|pinned| crew.has(pinned))
    }

    /// The minutes of every worker.
    pub(super) fn minutes(&self) -> Vec<u64> {
        self.workers.iter().map(|worker| worker.minutes).collect()
    }
}

fn common_divisor(one: u64, other: u64) -> u64 {
    let (mut one, mut other) = (one, other);
    while other != 0 {
        (one, other) = (other, one % other);
    }
    one
}

/// The two longest days among the workers of each clearance or above.
struct Longest(Vec<[Option<(u64, usize)>; 2]>);

impl Longest {
    fn of(workers: &[Worker]) -> Self {
        let mut by_clearance = vec![[None; 2]; 257];
        for (number, worker) in workers.iter().enumerate() {
            let at = usize::from(worker.clearance);
            by_clearance.put(at, longer(by_clearance.at(at), Some((worker.minutes, number))));
        }
        for at in (0..256).rev() {
            let [first, second] = by_clearance.at(at + 1);
            by_clearance.put(at, longer(longer(by_clearance.at(at), first), second));
        }
        Self(by_clearance)
    }

    /// Whether a job can be done by workers who have nothing else to do.
    fn allows(&self, workers: &[Worker], job: &Job) -> bool {
        let enough = |day: Option<(u64, usize)>| day.is_some_and(|(minutes, _)| minutes >= job.minutes);
        let [of_required, _] = self.0.at(usize::from(job.required));
        let of_second = self.0.at(usize::from(job.second()));
        match job.pinned {
            None if job.two => enough(of_required) && of_second.into_iter().all(enough),
            None => enough(of_required),
            Some(pinned) => {
                let worker = workers.at(pinned);
                let first = worker.clearance >= job.required;
                let others =
                    |days: [Option<(u64, usize)>; 2]| days.into_iter().any(|day| enough(day) && day.is_some_and(|(_, who)| who != pinned));
                let helped = if first { others(of_second) } else { worker.clearance >= job.second() && enough(of_required) };
                worker.minutes >= job.minutes && if job.two { helped } else { first }
            }
        }
    }
}

fn longer(days: [Option<(u64, usize)>; 2], day: Option<(u64, usize)>) -> [Option<(u64, usize)>; 2] {
    let [first, second] = days;
    if day > first { [day, first] } else { [first, second.max(day)] }
}
