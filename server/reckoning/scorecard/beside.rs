//! A brood beside the earlier broods of its species.

use serde::Serialize;

use super::{Scorecard, Share};
use crate::reckoning::rates::Limits;
use crate::reckoning::survival::{Followed, Group, Verdict, log_rank};

coded_enum! {
    /// What is held against the earlier broods.
    Measure, "measure" {
        Hatched = "hatched", "hatch rate";
        ToSecond = "to-second", "survival to second instar";
        FirstDays = "first-days", "alive 90 days after second instar";
        ToSale = "to-sale", "survival to sale";
        YearlyLoss = "yearly-loss", "loss a year from second instar on";
    }
}

/// Where a share stands beside another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stands {
    /// Its limits lie wholly above the other's.
    Above,
    /// Its limits lie wholly below the other's.
    Below,
    /// The limits overlap: no difference that these numbers can show.
    Overlaps,
}

impl Stands {
    /// Where limits stand beside others. That limits do not overlap is a stricter test than one at 5 %: a difference that
    /// it names is one, while some that are real stay unnamed (common practice; Schenker & Gentleman 2001, from memory).
    #[must_use]
    pub fn of(own: &Limits, other: &Limits) -> Self {
        if own.lower > other.upper {
            Self::Above
        } else if own.upper < other.lower {
            Self::Below
        } else {
            Self::Overlaps
        }
    }
}

/// One measure beside the earlier broods.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Beside {
    /// What is measured.
    pub measure: Measure,
    /// This brood's share, 0 to 1.
    pub own: Option<f64>,
    /// The median of the earlier broods, each counting once.
    pub median: Option<f64>,
    /// The lowest and the highest of them.
    pub range: Option<(f64, f64)>,
    /// How many earlier broods have the figure.
    pub broods: usize,
    /// The same of all their young together, for measures that are counts.
    pub pooled: Option<Share>,
    /// Where its limits stand beside those of the pooled share.
    pub stands: Option<Stands>,
    /// For survival after the second instar: what the log-rank test says against all the earlier ones together.
    #[serde(serialize_with = "told")]
    pub verdict: Option<Verdict>,
}

/// A verdict as its words.
fn told<S: serde::Serializer>(verdict: &Option<Verdict>, serializer: S) -> Result<S::Ok, S::Error> {
    verdict.map(|verdict| verdict.to_string()).serialize(serializer)
}

/// A brood beside the broods of its species that are dated before it. Those that are not through to the second instar yet
/// are left out of survival to it.
#[must_use]
pub fn beside(own: &Scorecard, others: &[Scorecard]) -> Vec<Beside> {
    let earlier: Vec<&Scorecard> = others.iter().filter(|other| other.code != own.code && other.dated < own.dated).collect();
    Measure::ALL.iter().map(|measure| one(own, &earlier, *measure)).collect()
}

fn one(own: &Scorecard, earlier: &[&Scorecard], measure: Measure) -> Beside {
    let mut values: Vec<f64> = earlier.iter().filter_map(|brood| value(brood, measure)).collect();
    values.sort_by(f64::total_cmp);
    let (of_own, pooled) = (count(own, measure), pooled(earlier, measure));
    let by_curve = measure == Measure::FirstDays;
    Beside {
        measure,
        own: value(own, measure).or(of_own.map(|share| share.limits.estimate)),
        median: median(&values),
        range: values.first().copied().zip(values.last().copied()),
        broods: values.len(),
        stands: of_own.zip(pooled).map(|(own, pooled)| Stands::of(&own.limits, &pooled.limits)),
        pooled,
        verdict: if by_curve { verdict(own, earlier) } else { None },
    }
}

/// The share of a measure, where it is to be had and can be compared.
fn value(brood: &Scorecard, measure: Measure) -> Option<f64> {
    match measure {
        Measure::Hatched | Measure::ToSecond => count(brood, measure).map(|share| share.limits.estimate),
        Measure::FirstDays => brood.first_days.map(|on| on.share),
        Measure::ToSale => brood.to_sale.map(|on| on.share),
        Measure::YearlyLoss => brood.yearly.map(|yearly| yearly.loss.estimate),
    }
}

fn count(brood: &Scorecard, measure: Measure) -> Option<Share> {
    match measure {
        Measure::Hatched => brood.hatched.filter(|_| brood.eggs_waiting == 0),
        Measure::ToSecond => brood.to_second.filter(|_| brood.is_through()),
        Measure::FirstDays | Measure::ToSale | Measure::YearlyLoss => None,
    }
}

fn pooled(broods: &[&Scorecard], measure: Measure) -> Option<Share> {
    let shares = broods.iter().filter_map(|brood| count(brood, measure));
    let (count, of) = shares.fold((0_u32, 0_u32), |(count, of), share| (count.saturating_add(share.count), of.saturating_add(share.of)));
    Share::of(count, of)
}

fn median(sorted: &[f64]) -> Option<f64> {
    let middle = sorted.len() / 2;
    let upper = sorted.get(middle).copied()?;
    if sorted.len() % 2 == 1 { Some(upper) } else { sorted.get(middle.checked_sub(1)?).map(|lower| (lower + upper) / 2.0) }
}

fn verdict(own: &Scorecard, earlier: &[&Scorecard]) -> Option<Verdict> {
    let own = own.followed.as_ref()?.followed.clone();
    against("own", own, "earlier", together(earlier.iter().copied()))
}

/// All that were followed of several broods, as one group.
pub(super) fn together<'a>(broods: impl Iterator<Item = &'a Scorecard>) -> Followed {
    let mut all = Followed::default();
    for followed in broods.filter_map(|brood| brood.followed.as_ref()) {
        all.entries.extend(followed.followed.entries.iter().copied());
        all.ends.extend(followed.followed.ends.iter().copied());
    }
    all
}

/// What the log-rank test says of a group against another.
pub(super) fn against(label: &str, own: Followed, other_label: &str, other: Followed) -> Option<Verdict> {
    if own.ends.is_empty() || other.ends.is_empty() {
        return None;
    }
    let group = |label: &str, followed: Followed| Group { label: label.to_owned(), followed };
    log_rank(&[group(label, own), group(other_label, other)]).ok()?.verdict(0)
}
