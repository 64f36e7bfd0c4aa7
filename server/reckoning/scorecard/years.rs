//! The broods of a species year by year, and the year that was best.

use std::collections::BTreeMap;

use serde::Serialize;

use super::beside::{Stands, against, together};
use super::{FIRST_DAYS, Scorecard, Share, SurvivalOn, alive_on};
use crate::reckoning::survival::{Verdict, kaplan_meier};

/// The broods that are dated in one year, taken together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Year {
    /// The year.
    pub year: i32,
    /// Their codes, the earliest first.
    pub broods: Vec<String>,
    /// How many young they had.
    pub young: u32,
    /// Reached the second instar, of the broods that are through to it.
    pub to_second: Option<Share>,
    /// How many broods that rests on.
    pub through: usize,
    /// Alive ninety days after the second instar, all together.
    pub first_days: Option<SurvivalOn>,
}

/// The best year, with what can be said of the difference.
#[derive(Debug, Clone, PartialEq)]
pub struct BestYear {
    /// The year.
    pub year: i32,
    /// Its survival to the second instar.
    pub to_second: Share,
    /// How many broods it rests on.
    pub broods: usize,
    /// That of all other years together; nothing when there is no other.
    pub others: Option<Share>,
    /// Where its limits stand beside theirs.
    pub stands: Option<Stands>,
    /// What the log-rank test says of its survival after the second instar against theirs.
    pub verdict: Option<Verdict>,
}

/// The years, the earliest first.
#[must_use]
pub fn years(broods: &[Scorecard]) -> Vec<Year> {
    let mut by_year: BTreeMap<i32, Vec<&Scorecard>> = BTreeMap::new();
    for brood in broods {
        by_year.entry(brood.year()).or_default().push(brood);
    }
    by_year.into_iter().map(|(year, broods)| one(year, broods)).collect()
}

fn one(year: i32, mut broods: Vec<&Scorecard>) -> Year {
    broods.sort_by(|one, other| (one.dated, &one.code).cmp(&(other.dated, &other.code)));
    let curve = kaplan_meier(&together(broods.iter().copied()), None).ok();
    Year {
        year,
        broods: broods.iter().map(|brood| brood.code.clone()).collect(),
        young: broods.iter().map(|brood| brood.young).fold(0, u32::saturating_add),
        to_second: pooled(&broods),
        through: broods.iter().filter(|brood| brood.is_through()).count(),
        first_days: curve.as_ref().and_then(|curve| alive_on(curve, FIRST_DAYS)),
    }
}

fn pooled(broods: &[&Scorecard]) -> Option<Share> {
    let shares = broods.iter().filter(|brood| brood.is_through()).filter_map(|brood| brood.to_second);
    let (count, of) = shares.fold((0_u32, 0_u32), |(count, of), share| (count.saturating_add(share.count), of.saturating_add(share.of)));
    Share::of(count, of)
}

/// The year with the highest survival to the second instar, of broods that are through to it; of equal ones the one with more
/// young, then the later. Nothing when no brood is through.
#[must_use]
pub fn best_year(broods: &[Scorecard]) -> Option<BestYear> {
    let all = years(broods);
    let with_share = all.iter().filter_map(|year| year.to_second.map(|share| (year, share)));
    let (best, share) = with_share.max_by(|(year, share), (other_year, other)| {
        let by_share = share.limits.estimate.total_cmp(&other.limits.estimate);
        by_share.then(share.of.cmp(&other.of)).then(year.year.cmp(&other_year.year))
    })?;
    let (own, others): (Vec<&Scorecard>, Vec<&Scorecard>) = broods.iter().partition(|brood| brood.year() == best.year);
    let pooled_others = pooled(&others);
    let (own, rest) = (together(own.into_iter()), together(others.into_iter()));
    Some(BestYear {
        year: best.year,
        to_second: share,
        broods: best.through,
        stands: pooled_others.map(|others| Stands::of(&share.limits, &others.limits)),
        others: pooled_others,
        verdict: against("best", own, "others", rest),
    })
}
