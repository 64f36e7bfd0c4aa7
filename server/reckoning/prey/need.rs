//! What planned feedings need: prey to prepare and prey that will be eaten, by day, kind and size.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::eaten::{Eaten, MOST_STEPS};
use super::{Feeding, Method, PreyError, checked};

/// A feeding that is planned for one animal. A group in vials is as many feedings as it has animals: each takes its
/// prey or leaves it on its own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedFeed {
    /// The day.
    pub day: NaiveDate,
    /// The kind of prey.
    pub kind: String,
    /// Its size.
    pub size: String,
    /// The chance that the animal takes it, from 0 to 1; see [`super::acceptance`].
    pub probability: f64,
    /// How many prey it eats if it does.
    pub prey: u32,
    /// How many must be prepared for it; at least as many as it eats.
    pub offered: u32,
}

/// The prey of one kind and size that a day needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DayNeed {
    /// The day.
    pub day: NaiveDate,
    /// The kind of prey.
    pub kind: String,
    /// Its size.
    pub size: String,
    /// How many are offered: what must be prepared.
    pub offered: u64,
    /// How many are eaten, on average: what will be used.
    pub mean: f64,
    /// The smallest number eaten that will not be exceeded with a chance of 5 % or more.
    pub p05: u64,
    /// The same with 95 %.
    pub p95: u64,
    /// The same with 10 %: the lower end of the range of 80 %.
    pub p10: u64,
    /// The same with 90 %: its upper end.
    pub p90: u64,
    /// How many animals are fed.
    pub animals: usize,
    /// How the range was reckoned.
    pub method: Method,
}

/// The prey of one kind and size that the whole period needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PeriodNeed {
    /// The kind of prey.
    pub kind: String,
    /// Its size.
    pub size: String,
    /// The first day with such a feeding.
    pub from: NaiveDate,
    /// The last day with such a feeding.
    pub to: NaiveDate,
    /// How many are offered: what must be prepared.
    pub offered: u64,
    /// How many are eaten, on average: what will be used.
    pub mean: f64,
    /// The smallest number eaten that will not be exceeded with a chance of 5 % or more.
    pub p05: u64,
    /// The same with 95 %.
    pub p95: u64,
    /// The same with 10 %: the lower end of the range of 80 %.
    pub p10: u64,
    /// The same with 90 %: its upper end.
    pub p90: u64,
    /// How many feedings.
    pub feedings: usize,
    /// How the range was reckoned.
    pub method: Method,
}

/// What each day needs, by kind and size, in that order.
///
/// # Errors
/// Chances that are not from 0 to 1; fewer prey offered than eaten.
pub fn need(feeds: &[PlannedFeed]) -> Result<Vec<DayNeed>, PreyError> {
    let groups = grouped(feeds, |feed| (feed.day, feed.kind.as_str(), feed.size.as_str()))?;
    let needs = groups.into_iter().map(|((day, kind, size), group)| {
        let (eaten, offered) = (group.eaten(feeds.len()), group.offered());
        let ((p05, _, p95), p10, p90) = (eaten.quantiles(), eaten.quantile(0.1), eaten.quantile(0.9));
        let (kind, size, animals) = (kind.to_owned(), size.to_owned(), group.0.len());
        DayNeed { day, kind, size, offered, mean: eaten.mean(), p05, p95, p10, p90, animals, method: eaten.method() }
    });
    Ok(needs.collect())
}

/// What the whole period needs, by kind and size, in that order.
///
/// # Errors
/// Chances that are not from 0 to 1; fewer prey offered than eaten.
pub fn period_need(feeds: &[PlannedFeed]) -> Result<Vec<PeriodNeed>, PreyError> {
    let groups = grouped(feeds, |feed| (feed.kind.as_str(), feed.size.as_str()))?;
    let needs = groups.into_iter().filter_map(|((kind, size), group)| {
        let days = || group.0.iter().map(|feed| feed.day);
        let (eaten, offered) = (group.eaten(feeds.len()), group.offered());
        let ((p05, _, p95), p10, p90) = (eaten.quantiles(), eaten.quantile(0.1), eaten.quantile(0.9));
        let (kind, size, feedings) = (kind.to_owned(), size.to_owned(), group.0.len());
        let (from, to) = days().min().zip(days().max())?;
        Some(PeriodNeed { kind, size, from, to, offered, mean: eaten.mean(), p05, p95, p10, p90, feedings, method: eaten.method() })
    });
    Ok(needs.collect())
}

/// Feedings that are counted together; never empty.
struct Group<'a>(Vec<&'a PlannedFeed>);

impl Group<'_> {
    fn offered(&self) -> u64 {
        self.0.iter().map(|feed| u64::from(feed.offered)).sum()
    }

    /// The prey eaten. Groups share the work by their numbers of feedings, so that no list takes long.
    fn eaten(&self, feedings_in_all: usize) -> Eaten {
        let each = MOST_STEPS / (feedings_in_all as u64).max(1);
        let mut eaten = Eaten::none(each.saturating_mul(self.0.len() as u64));
        self.0.iter().for_each(|feed| eaten.add(feed.feeding()));
        eaten
    }
}

impl PlannedFeed {
    /// The feeding alone.
    pub(super) fn feeding(&self) -> Feeding {
        Feeding { probability: self.probability, prey: self.prey }
    }

    /// Whether the feeding makes sense; `at` is its place in the list.
    pub(super) fn check(&self, at: usize) -> Result<(), PreyError> {
        checked(self.feeding(), at)?;
        if self.offered < self.prey { Err(PreyError::Offered { at }) } else { Ok(()) }
    }
}

fn grouped<'a, K: Ord>(feeds: &'a [PlannedFeed], key: impl Fn(&'a PlannedFeed) -> K) -> Result<BTreeMap<K, Group<'a>>, PreyError> {
    let mut groups = BTreeMap::new();
    for (at, feed) in feeds.iter().enumerate() {
        feed.check(at)?;
        groups.entry(key(feed)).or_insert_with(|| Group(Vec::new())).0.push(feed);
    }
    Ok(groups)
}
