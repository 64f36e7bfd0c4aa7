//! Who does what, and what it comes to.

use super::problem::{Crew, Problem};
use super::share::Share;
use crate::reckoning::cells::Cells;

/// A crew for every job.
#[derive(Debug, Clone)]
pub(super) struct Plan<'a> {
    pub(super) problem: &'a Problem,
    pub(super) crews: Vec<Crew>,
    pub(super) loads: Vec<u64>,
    /// The urgency of all jobs that nobody does.
    pub(super) weight: u64,
}

impl<'a> Plan<'a> {
    /// Nobody does anything yet.
    pub(super) fn new(problem: &'a Problem) -> Self {
        Self {
            problem,
            crews: vec![Crew::Nobody; problem.jobs.len()],
            loads: vec![0; problem.workers.len()],
            weight: problem.jobs.iter().map(|job| job.urgency).sum(),
        }
    }

    /// Gives a job to a crew, and takes it from those who had it.
    pub(super) fn give(&mut self, job: usize, crew: Crew) {
        let minutes = self.problem.jobs.at(job).minutes;
        let urgency = self.problem.jobs.at(job).urgency;
        let before = self.crews.at(job);
        for member in before.members() {
            self.loads.put(member, self.loads.at(member).saturating_sub(minutes));
        }
        for member in crew.members() {
            self.loads.put(member, self.loads.at(member) + minutes);
        }
        self.weight += if before == Crew::Nobody { 0 } else { urgency };
        self.weight = self.weight.saturating_sub(if crew == Crew::Nobody { 0 } else { urgency });
        self.crews.put(job, crew);
    }

    /// Whether every load is within its cap.
    pub(super) fn is_within(&self, caps: &[u64]) -> bool {
        self.loads.iter().zip(caps).all(|(load, cap)| load <= cap)
    }

    /// The greatest share.
    pub(super) fn share(&self) -> Share {
        let shares = self.loads.iter().zip(&self.problem.workers).map(|(load, worker)| Share::new(*load, worker.minutes));
        shares.max().unwrap_or(Share::NONE)
    }

    /// What counts first and second: the weight, then the greatest share.
    pub(super) fn values(&self) -> (u64, Share) {
        (self.weight, self.share())
    }
}

/// The caps at which nobody has more than a share.
pub(super) fn caps_at(problem: &Problem, share: Share) -> Vec<u64> {
    problem.workers.iter().map(|worker| share.of_minutes(worker.minutes).min(worker.minutes)).collect()
}

/// The caps at which everybody has less than a share; `None` if nobody can.
pub(super) fn caps_below(problem: &Problem, share: Share) -> Option<Vec<u64>> {
    let caps = problem.workers.iter().filter(|worker| worker.minutes > 0).map(|worker| share.below(worker.minutes));
    caps.clone()
        .all(|cap| cap.is_some())
        .then(|| problem.workers.iter().map(|worker| share.below(worker.minutes).unwrap_or_default().min(worker.minutes)).collect())
}
