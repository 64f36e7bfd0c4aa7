//! What is known beforehand about the duties from each place of the order on.

use super::{Problem, Room};
use crate::reckoning::cells::Cells;

/// The longest day, in units, for which sums of durations are tabled.
const LONGEST_TABLED: u64 = 4_096;

/// The most steps of a list of what can be left out.
const MOST_STEPS: usize = 512;

/// What is known of the jobs that are left, by place of the order.
pub(super) struct Tables {
    /// The clearances that workers hold.
    held: Vec<u8>,
    /// By worker, which of those.
    holds: Vec<usize>,
    /// By place and clearance held: for each number of minutes, the most of them that the jobs left can fill; empty if
    /// days are too long to be tabled.
    fills: Vec<Vec<Vec<u32>>>,
    /// By place and clearance needed.
    needs: Vec<Vec<Need>>,
    /// The clearances needed.
    levels: Vec<u8>,
}

/// What the jobs that are left need at a clearance.
#[derive(Debug, Clone, Default)]
struct Need {
    /// In units.
    minutes: u64,
    /// Weights from 0 up, and the most minutes that can be left out for each.
    left_out: Vec<(u64, u64)>,
}

impl Tables {
    pub(super) fn new(problem: &Problem, order: &[usize]) -> Self {
        let mut held: Vec<u8> = problem.workers.iter().map(|worker| worker.clearance).collect();
        held.sort_unstable();
        held.dedup();
        let holds = problem.workers.iter().map(|worker| held.partition_point(|clearance| *clearance < worker.clearance)).collect();
        let longest = problem.workers.iter().map(|worker| worker.minutes / problem.unit).max().unwrap_or_default();
        let tabled = if longest <= LONGEST_TABLED { longest as usize + 1 } else { 0 };
        let levels: Vec<u8> = std::iter::once(0).chain(held.iter().filter_map(|clearance| clearance.checked_add(1))).collect();
        let mut fills = vec![held.iter().map(|_| (0..tabled).map(|_| 0).collect()).collect::<Vec<Vec<u32>>>()];
        let mut needs = vec![vec![Need { minutes: 0, left_out: vec![(0, 0)] }; levels.len()]];
        for number in order.iter().rev() {
            let job = problem.jobs.at(*number);
            let minutes = job.minutes / problem.unit;
            let fill = fills.last().into_iter().flatten().zip(&held);
            let fill = fill.map(|(fill, held)| {
                let takes = *held >= job.required || (job.two && *held >= job.second());
                if takes { with_job(fill, minutes as usize) } else { fill.clone() }
            });
            let fill = fill.collect();
            let need = needs.last().into_iter().flatten().zip(&levels);
            let need = need.map(|(need, level)| need.with(job.minutes_at(*level) / problem.unit, job.urgency)).collect();
            fills.push(fill);
            needs.push(need);
        }
        fills.reverse();
        needs.reverse();
        Self { held, holds, fills, needs, levels }
    }

    /// The part of each room that the jobs from a place on can fill.
    pub(super) fn useful(&self, problem: &Problem, depth: usize, room: Room) -> Room {
        let mut useful = Room::default();
        let Some(fills) = self.fills.get(depth) else { return room };
        for (worker, (cell, holds)) in useful.iter_mut().zip(&self.holds).enumerate().take(problem.workers.len()) {
            let left = room.at(worker);
            *cell = fills.get(*holds).and_then(|fill| fill.get(left as usize)).copied().unwrap_or(left);
        }
        useful
    }

    /// Whether the minutes that are left to do could fit into the room, at every clearance, with so much left out.
    pub(super) fn could_fit(&self, problem: &Problem, depth: usize, room: &Room, spare: u64) -> bool {
        let mut by_held: [u64; super::MOST_WORKERS] = [0; super::MOST_WORKERS];
        for (holds, left) in self.holds.iter().zip(room).take(problem.workers.len()) {
            by_held.put(*holds, by_held.at(*holds) + u64::from(*left));
        }
        let needs = self.needs.get(depth).into_iter().flatten().zip(&self.levels);
        let mut needs = needs.filter(|(need, _)| need.minutes > 0);
        needs.all(|(need, level)| {
            let room: u64 = self.held.iter().zip(by_held).filter(|(held, _)| *held >= level).map(|(_, room)| room).sum();
            need.minutes <= room || need.minutes - room <= need.most_left_out(spare)
        })
    }
}

/// For each number of minutes, the most of them that can be filled when there is one more job.
fn with_job(fill: &[u32], minutes: usize) -> Vec<u32> {
    let with = |at: usize| at.checked_sub(minutes).map_or(0, |rest| fill.at(rest) + u32::try_from(minutes).unwrap_or_default());
    fill.iter().enumerate().map(|(at, without)| (*without).max(with(at))).collect()
}

impl Need {
    /// The need with one more job.
    fn with(&self, minutes: u64, urgency: u64) -> Self {
        if minutes == 0 {
            return self.clone();
        }
        let without = self.left_out.iter().copied();
        let with = self.left_out.iter().map(|(spent, saved)| (spent + urgency, saved + minutes));
        let mut all: Vec<(u64, u64)> = without.chain(with).collect();
        all.sort_unstable_by_key(|(spent, saved)| (*spent, std::cmp::Reverse(*saved)));
        let mut left_out: Vec<(u64, u64)> = Vec::with_capacity(all.len());
        for (spent, saved) in all {
            if left_out.last().is_none_or(|(_, most)| saved > *most) {
                left_out.push((spent, saved));
            }
        }
        while left_out.len() > MOST_STEPS {
            left_out = left_out.chunks(2).filter_map(|two| Some((two.first()?.0, two.last()?.1))).collect();
        }
        Self { minutes: self.minutes + minutes, left_out }
    }

    /// The most minutes that can be left out for so much urgency.
    fn most_left_out(&self, spare: u64) -> u64 {
        let within = self.left_out.partition_point(|(spent, _)| *spent <= spare);
        within.checked_sub(1).and_then(|at| self.left_out.get(at)).map_or(0, |(_, saved)| *saved)
    }
}
