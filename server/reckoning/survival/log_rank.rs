//! Whether groups die at different speeds: the log-rank test, and what it says of each group in words.

use std::fmt;

use serde::{Deserialize, Serialize};
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::timeline::{Day, Timeline};
use super::{Followed, SurvivalError};

/// The most groups that are compared at once.
pub const MOST_GROUPS: usize = 100;
/// The most entries and observations of all groups together.
pub const MOST_ROWS: usize = 1_000_000;
/// A difference is named when chance alone would give one as large less often than this (common practice).
pub const LEVEL: f64 = 0.05;
/// The level in words, to stand beside the verdicts.
pub const LEVEL_NOTE: &str =
    "Each is held against all the others together at the 5 % level: of twenty that do not differ, about one will seem to.";
/// Fewer losses than this, both seen and expected, in a group or in all the others are too few to compare: the
/// chi-square distribution is no longer near (common practice, after Cochran 1954, from memory).
const LEAST_LOSSES: f64 = 5.0;

/// A group to compare.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Group {
    /// What it is called.
    pub label: String,
    /// Its animals.
    pub followed: Followed,
}

/// Why groups can't be compared.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LogRankError {
    /// Nothing to compare with.
    #[error("a comparison needs at least two groups")]
    TooFewGroups,
    /// Too many at once.
    #[error("at most {MOST_GROUPS} groups can be compared at once; leave some out")]
    TooManyGroups,
    /// Too many rows altogether.
    #[error("more than {MOST_ROWS} observations and entries altogether; add up those of the same day")]
    TooManyRows,
    /// Something is wrong with one group; they count from 0.
    #[error("{label}: {error}")]
    Group {
        /// Which group.
        index: usize,
        /// Its label.
        label: String,
        /// What is wrong.
        error: SurvivalError,
    },
}

/// The losses of one group beside those that were to be expected.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupLosses {
    /// What it is called.
    pub label: String,
    /// How many were lost.
    pub observed: u32,
    /// How many would have been lost, had all groups died at the same speed.
    pub expected: f64,
    /// The p value of this group against all the others together (log-rank test of two groups); nothing when none of
    /// it were ever at risk beside others.
    pub p_value: Option<f64>,
}

/// The comparison of all groups.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LogRank {
    /// The groups in the order given.
    pub groups: Vec<GroupLosses>,
    /// The test statistic; nothing when no groups were ever at risk together on a day with a loss.
    pub chi_square: Option<f64>,
    /// Groups − 1; fewer where some groups were never at risk beside the others.
    pub degrees_of_freedom: u32,
    /// How often chance alone would give a statistic as large, 0 to 1; nothing when there is no statistic.
    pub p_value: Option<f64>,
}

/// What the test says of one group against all the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Verdict {
    /// More lost than expected, beyond chance; with its p value.
    Faster(f64),
    /// Fewer lost than expected, beyond chance; with its p value.
    Slower(f64),
    /// No more of a difference than chance gives; with its p value.
    NoDifference(f64),
    /// Too few losses for the test to mean anything.
    TooFew,
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Faster(p) => write!(f, "dying faster than its sisters, {}", written_p(*p)),
            Self::Slower(p) => write!(f, "dying slower than its sisters, {}", written_p(*p)),
            Self::NoDifference(p) => write!(f, "no difference that these numbers can show, {}", written_p(*p)),
            Self::TooFew => f.write_str("too few losses to compare"),
        }
    }
}

/// A p value as people write it: “p = 0.41”, “p = 0.012”, “p < 0.001”. More places near zero, so that one just below
/// the level is not shown as the level.
fn written_p(p: f64) -> String {
    if p < 0.001 {
        "p < 0.001".to_owned()
    } else if p < 0.1 {
        let places = format!("{p:.3}");
        format!("p = {}", places.strip_suffix('0').unwrap_or(&places))
    } else {
        format!("p = {p:.2}")
    }
}

impl LogRank {
    /// What the test says of one group against all the others, at [`LEVEL`]; nothing when there is no such group.
    pub fn verdict(&self, index: usize) -> Option<Verdict> {
        let group = self.groups.get(index)?;
        let others = || self.groups.iter().enumerate().filter(|(at, _)| *at != index).map(|(_, other)| other);
        let seen = others().map(|other| f64::from(other.observed)).sum::<f64>();
        let expected = others().map(|other| other.expected).sum::<f64>();
        let enough = f64::from(group.observed).max(group.expected).min(seen.max(expected)) >= LEAST_LOSSES;
        Some(match group.p_value.filter(|_| enough) {
            None => Verdict::TooFew,
            Some(p) if p >= LEVEL => Verdict::NoDifference(p),
            Some(p) if f64::from(group.observed) > group.expected => Verdict::Faster(p),
            Some(p) => Verdict::Slower(p),
        })
    }

    /// What the test says of all groups together, in one sentence.
    pub fn summary(&self) -> String {
        let (Some(chi_square), Some(p)) = (self.chi_square, self.p_value) else {
            return "the groups were never at risk together on a day with a loss, so they can't be compared".to_owned();
        };
        let degrees = self.degrees_of_freedom;
        let found = if p < LEVEL { "the groups die at different speeds" } else { "no difference that these numbers can show" };
        format!(
            "{found}: log-rank chi-square {chi_square:.2} on {degrees} degree{s} of freedom, {p}",
            s = if degrees == 1 { "" } else { "s" },
            p = written_p(p)
        )
    }
}

/// The log-rank test, unweighted, with the hypergeometric variance. On each day with d lost of n at risk in all
/// groups together, a group with n₁ at risk is expected to lose d·n₁/n.
///
/// Sources: Mantel 1966; Peto & Peto 1972; for several groups and delayed entry Klein & Moeschberger, Survival Analysis
/// (all from memory). Published value: Freireich et al., Blood 21: 699-716, 1963: chi-square 16.79.
///
/// # Errors
/// Fewer than two groups, more than [`MOST_GROUPS`], more than [`MOST_ROWS`] rows, a group that can't be reckoned with.
pub fn log_rank(groups: &[Group]) -> Result<LogRank, LogRankError> {
    if groups.len() < 2 {
        return Err(LogRankError::TooFewGroups);
    }
    if groups.len() > MOST_GROUPS {
        return Err(LogRankError::TooManyGroups);
    }
    let rows: usize = groups.iter().map(|group| group.followed.entries.len() + group.followed.ends.len()).sum();
    if rows > MOST_ROWS {
        return Err(LogRankError::TooManyRows);
    }
    let timelines = groups.iter().enumerate().map(|(index, group)| {
        Timeline::of(&group.followed).map_err(|error| LogRankError::Group { index, label: group.label.clone(), error })
    });
    let sums = Sums::of(&timelines.collect::<Result<Vec<_>, _>>()?);
    let losses = groups.iter().zip(&sums.groups).zip(sums.variances());
    let groups = losses.map(|((group, sum), variance)| {
        let p_value = (variance > 0.0).then(|| upper_tail(sum.excess * sum.excess / variance, 1));
        GroupLosses { label: group.label.clone(), observed: sum.observed, expected: sum.expected, p_value }
    });
    let groups = groups.collect();
    let (chi_square, degrees_of_freedom) = sums.statistic();
    let known = degrees_of_freedom > 0;
    let p_value = known.then(|| upper_tail(chi_square, degrees_of_freedom));
    Ok(LogRank { groups, chi_square: known.then_some(chi_square), degrees_of_freedom, p_value })
}

/// The share of the chi-square distribution above a value.
fn upper_tail(chi_square: f64, degrees: u32) -> f64 {
    // The distribution refuses a value whose half is no longer above zero.
    if chi_square < f64::MIN_POSITIVE * 4.0 {
        return 1.0;
    }
    ChiSquared::new(f64::from(degrees)).map_or(1.0, |distribution| distribution.sf(chi_square))
}

/// What adds up for one group over the days.
#[derive(Debug, Clone, Copy, Default)]
struct GroupSum {
    observed: u32,
    expected: f64,
    /// Observed − expected, summed day by day.
    excess: f64,
}

/// What adds up over the days.
///
/// The covariance of two groups is −Σ w·p₁·p₂, with p the groups' shares of those at risk and w = d(n − d)/(n − 1), and
/// each row of the matrix sums to zero. So only the ties Σ w·p₁·p₂ are kept, those of each group to the groups before
/// it. Two groups without a chain of ties between them were never at risk together.
struct Sums {
    groups: Vec<GroupSum>,
    ties: Vec<Vec<f64>>,
}

impl Sums {
    fn of(timelines: &[Timeline]) -> Self {
        let mut sums = Self {
            groups: vec![GroupSum::default(); timelines.len()],
            ties: (0..timelines.len()).map(|before| vec![0.0; before]).collect(),
        };
        let losses = timelines.iter().flat_map(|timeline| timeline.days()).filter(|day| day.lost > 0);
        let mut loss_days: Vec<u32> = losses.map(|day| day.day).collect();
        loss_days.sort_unstable();
        loss_days.dedup();
        let mut walkers: Vec<Walker<'_>> = timelines.iter().map(|timeline| Walker { ahead: timeline.days(), standing: 0 }).collect();
        let (mut at_risk, mut lost): (Vec<f64>, Vec<u32>) = (Vec::new(), Vec::new());
        for day in loss_days {
            at_risk.clear();
            lost.clear();
            for walker in &mut walkers {
                let (group_at_risk, group_lost) = walker.on(day);
                at_risk.push(group_at_risk);
                lost.push(group_lost);
            }
            sums.add(&at_risk, &lost);
        }
        sums
    }

    /// Adds a day, with the number at risk and lost of each group.
    fn add(&mut self, at_risk: &[f64], lost: &[u32]) {
        let all_at_risk: f64 = at_risk.iter().sum();
        let all_lost: f64 = lost.iter().copied().map(f64::from).sum();
        for (sum, (at_risk, lost)) in self.groups.iter_mut().zip(at_risk.iter().zip(lost)) {
            let expected = all_lost * at_risk / all_at_risk;
            sum.observed += lost;
            sum.expected += expected;
            sum.excess += f64::from(*lost) - expected;
        }
        if all_at_risk <= all_lost {
            return;
        }
        let weight = all_lost * (all_at_risk - all_lost) / (all_at_risk - 1.0) / (all_at_risk * all_at_risk);
        for (ties, own) in self.ties.iter_mut().zip(at_risk).filter(|(_, own)| **own > 0.0) {
            let own = weight * own;
            ties.iter_mut().zip(at_risk).for_each(|(tie, other)| *tie += own * other);
        }
    }

    /// The variance of each group's excess: the sum of its ties.
    fn variances(&self) -> Vec<f64> {
        let mut variances: Vec<f64> = self.ties.iter().map(|ties| ties.iter().sum()).collect();
        for ties in &self.ties {
            for (variance, tie) in variances.iter_mut().zip(ties) {
                *variance += tie;
            }
        }
        variances
    }

    /// The excesses squared over their covariance, and its rank.
    ///
    /// One group after the other is eliminated, which ties its neighbours to each other. Nothing is subtracted, so no
    /// digits are lost, and a group without ties left over is the last of those that were at risk together and has
    /// nothing to add (after Grassmann, Taksar & Heyman 1985, from memory).
    fn statistic(&self) -> (f64, u32) {
        let mut excesses: Vec<f64> = self.groups.iter().map(|sum| sum.excess).collect();
        let mut ties = self.ties.clone();
        let (mut chi_square, mut rank) = (0.0, 0);
        while let (Some(last), Some(excess)) = (ties.pop(), excesses.pop()) {
            let total: f64 = last.iter().sum();
            if total <= 0.0 {
                continue;
            }
            chi_square += excess * excess / total;
            rank += 1;
            for ((own, own_ties), own_excess) in last.iter().zip(&mut ties).zip(&mut excesses) {
                *own_excess += own / total * excess;
                for (tie, other) in own_ties.iter_mut().zip(&last) {
                    *tie += own / total * other;
                }
            }
        }
        (chi_square, rank)
    }
}

/// Goes through a group's days in order.
struct Walker<'a> {
    ahead: &'a [Day],
    standing: u32,
}

impl Walker<'_> {
    /// How many were at risk, and lost, on a day that is not before the one asked for last.
    fn on(&mut self, day: u32) -> (f64, u32) {
        while let Some((next, ahead)) = self.ahead.split_first().filter(|(next, _)| next.day <= day) {
            if next.day == day {
                return (f64::from(next.at_risk), next.lost);
            }
            (self.standing, self.ahead) = (next.standing(), ahead);
        }
        (f64::from(self.standing), 0)
    }
}
