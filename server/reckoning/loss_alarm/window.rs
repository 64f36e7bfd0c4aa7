//! The losses of the last days, held against the usual ones.

use chrono::NaiveDate;
use serde::Serialize;

use super::baseline::Usual;
use super::days::{Tally, after, days_before};
use super::{Stratum, Watched};
use crate::reckoning::calendar::{days_between, written};
use crate::reckoning::rates::{MOST_COUNTED, binomial_upper_tail, poisson_upper_tail};

/// A window of days and what was lost in it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Window {
    /// Its length in days, as it is called: 7 or 28.
    pub days: u32,
    /// Its first day. Earlier than its length says when nobody looked just before it.
    pub from: NaiveDate,
    /// Its last day: the last on which somebody looked.
    pub to: NaiveDate,
    /// How many died.
    pub lost: u64,
    /// How many went missing, which are not deaths.
    pub missing: u64,
    /// The most that were at risk on one of its days.
    pub of: u64,
    /// Spiderling-days at risk.
    pub exposure: u64,
    /// How many are usual, and how sure that is.
    pub usual: Usual,
    /// The chance of at least so many if the usual rate were certain: exact Poisson tail.
    pub poisson: f64,
    /// The same, each of those at risk dying at most once: exact binomial tail with n = `of` and the probability
    /// 1 − exp(−rate × days), the days being those that the exposure would take if all of them stayed.
    pub binomial: f64,
    /// The chance of at least so many with the usual rate as uncertain as it is. The alarm goes by this one.
    pub chance: f64,
}

impl Window {
    /// What a window of so many days up to today shows. Losses are dated by the day that they are found, so a window
    /// starts after the last look before it and ends with the last look.
    pub(super) fn of(watched: &Watched<'_>, looks: &[NaiveDate], days: u32, today: NaiveDate) -> Self {
        let (from, to) = ends(looks, watched.begin(today), days, today);
        let tallies = watched.strata.iter().map(|Stratum { days, baseline, .. }| {
            let tally = days.tally(from, to);
            (tally, baseline.usual(tally.exposure))
        });
        let (seen, usual) = tallies.fold((Tally::default(), Usual::NONE), |sum, next| (sum.0.and(next.0), sum.1.and(next.1)));
        let Tally { lost, exposure, missing } = seen;
        let of = most_at_risk(watched, from, to);
        // More may be lost than ever stood there together, when some came after others had died.
        let (counted, at_risk) = (lost.min(MOST_COUNTED), of.max(lost).min(MOST_COUNTED));
        let each = -(-usual.mean / at_risk.max(1) as f64).exp_m1();
        let poisson = poisson_upper_tail(counted, usual.mean).unwrap_or(1.0);
        let binomial = binomial_upper_tail(counted, at_risk, each).unwrap_or(1.0);
        let chance = usual.chance(lost);
        Self { days, from, to, lost, missing, of, exposure, usual, poisson, binomial, chance }
    }

    /// In a sentence: “9 lost of 180 in the last 7 days, where 1.9 are usual (chance 0.0003)”.
    pub fn words(&self, today: NaiveDate) -> String {
        let Self { lost, of, from, to, .. } = self;
        let length = days_between(*from, *to) + 1;
        let when = match length {
            ..=0 => return format!("no day to judge in the last {} days", self.days),
            _ if *of == 0 => return format!("none were there in the last {} days", self.days),
            1 if *to == today => "today".to_owned(),
            1 => format!("on {}", written(*to)),
            _ if *to == today => format!("in the last {length} days"),
            _ => format!("in the {length} days to {}", written(*to)),
        };
        format!("{lost} lost of {of} {when}, where {} are usual (chance {})", few(self.usual.mean), chance_words(self.chance))
    }
}

/// The first and last day of a window of so many days; the first is after the last when there is no day to judge.
fn ends(looks: &[NaiveDate], begin: NaiveDate, days: u32, today: NaiveDate) -> (NaiveDate, NaiveDate) {
    let start = days_before(today, days.saturating_sub(1));
    if looks.is_empty() {
        return (start.max(begin), today);
    }
    let last_look = |until: NaiveDate| looks.get(..looks.partition_point(|look| *look <= until)).and_then(<[_]>::last).copied();
    let from = start.pred_opt().and_then(last_look).map_or(begin, after).max(begin);
    (from, last_look(today).unwrap_or(days_before(begin, 1)))
}

/// The most that were at risk together on a day.
fn most_at_risk(watched: &Watched<'_>, from: NaiveDate, to: NaiveDate) -> u64 {
    let listed = watched.strata.iter().flat_map(|stratum| stratum.days.within(from, to)).map(|day| day.day);
    let together = |day: NaiveDate| watched.strata.iter().map(|stratum| u64::from(stratum.days.at_risk_on(day))).sum();
    if from > to { 0 } else { listed.chain([from]).map(together).max().unwrap_or(0) }
}

/// An expected number: with one decimal, and two when it is small.
pub(super) fn few(number: f64) -> String {
    if number < 0.95 { format!("{number:.2}") } else { format!("{number:.1}") }
}

/// A chance as people read it.
pub(super) fn chance_words(chance: f64) -> String {
    match chance {
        0.0..0.0001 => "below 0.0001".to_owned(),
        0.0001..0.01 => format!("{chance:.4}"),
        _ => format!("{chance:.2}"),
    }
}
