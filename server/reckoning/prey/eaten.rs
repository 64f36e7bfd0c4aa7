//! The distribution of prey eaten, feeding by feeding.

use statrs::distribution::{ContinuousCDF as _, Normal};

use super::{Feeding, Method};

/// The most work put into an exact distribution: totals looked at, over all feedings. Nine thousand feedings of a
/// few prey stay within it.
pub(super) const MOST_STEPS: u64 = 20_000_000;
/// The most different totals that an exact distribution may have.
const MOST_TOTALS: usize = 1 << 20;
/// Totals at either end that are less likely together than this are left out after each feeding.
const NEGLIGIBLE: f64 = 1e-18;
/// Keeps a share that is reached exactly from being missed by rounding.
const TIE: f64 = 1e-12;

/// The number of prey eaten at the feedings so far.
pub(super) struct Eaten {
    /// What is eaten for certain.
    certain: u64,
    /// What is eaten at most.
    most: u64,
    mean: f64,
    variance: f64,
    /// What all uncertain prey numbers are multiples of; 0 while there is none.
    step: u64,
    /// Each total of uncertain prey with its chance, in order of total; none once there are too many.
    totals: Option<Vec<(u64, f64)>>,
    steps_left: u64,
}

impl Eaten {
    /// Nothing eaten yet. Past so many steps of work the distribution is approximated.
    pub(super) fn none(steps: u64) -> Self {
        Self { certain: 0, most: 0, mean: 0.0, variance: 0.0, step: 0, totals: Some(vec![(0, 1.0)]), steps_left: steps }
    }

    /// Adds a feeding whose chance is known to lie from 0 to 1.
    pub(super) fn add(&mut self, Feeding { probability, prey }: Feeding) {
        let (number, prey) = (f64::from(prey), u64::from(prey));
        self.mean += probability * number;
        self.variance += probability * (1.0 - probability) * number * number;
        self.most += if probability > 0.0 { prey } else { 0 };
        if probability >= 1.0 {
            self.certain += prey;
        } else if probability > 0.0 && prey > 0 {
            self.step = common_divisor(self.step, prey);
            self.totals = self.totals.take().and_then(|totals| self.convolved(&totals, prey, probability));
        }
    }

    fn convolved(&mut self, totals: &[(u64, f64)], prey: u64, probability: f64) -> Option<Vec<(u64, f64)>> {
        self.steps_left = self.steps_left.checked_sub(totals.len() as u64)?;
        let mut sum = Vec::with_capacity(totals.len() + 1);
        let mut taken = totals.iter().map(|(total, chance)| (total + prey, chance * probability)).peekable();
        for (total, chance) in totals.iter().map(|(total, chance)| (*total, chance * (1.0 - probability))) {
            while let Some(smaller) = taken.next_if(|(other, _)| *other < total) {
                sum.push(smaller);
            }
            let same = taken.next_if(|(other, _)| *other == total).map_or(0.0, |(_, chance)| chance);
            sum.push((total, chance + same));
        }
        sum.extend(taken);
        trim(&mut sum);
        (sum.len() <= MOST_TOTALS).then_some(sum)
    }

    /// How many are eaten at most.
    pub(super) fn most(&self) -> u64 {
        self.most
    }

    /// The mean.
    pub(super) fn mean(&self) -> f64 {
        self.mean
    }

    /// The variance.
    pub(super) fn variance(&self) -> f64 {
        self.variance
    }

    /// How the distribution is reckoned.
    pub(super) fn method(&self) -> Method {
        if self.totals.is_some() { Method::Exact } else { Method::Normal }
    }

    /// The smallest numbers whose cumulative chance is at least 5, 50 and 95 %.
    pub(super) fn quantiles(&self) -> (u64, u64, u64) {
        (self.quantile(0.05), self.quantile(0.5), self.quantile(0.95))
    }

    /// The smallest number whose cumulative chance is at least this share.
    pub(super) fn quantile(&self, share: f64) -> u64 {
        let Some(totals) = &self.totals else {
            let uncertain = self.mean - self.certain as f64 + Normal::standard().inverse_cdf(share) * self.variance.sqrt();
            let steps = (uncertain / self.step as f64 - 0.5).ceil();
            // A negative number of steps becomes none.
            return self.certain.saturating_add((steps as u64).saturating_mul(self.step)).min(self.most);
        };
        let mut cumulative = TIE;
        let reached = totals.iter().find(|(_, chance)| {
            cumulative += chance;
            cumulative >= share
        });
        self.certain + reached.or(totals.last()).map_or(0, |(total, _)| *total)
    }

    /// The chance that at least so many are eaten.
    pub(super) fn chance_of(&self, least: u64) -> f64 {
        let Some(uncertain) = least.checked_sub(self.certain).filter(|uncertain| *uncertain > 0) else {
            return 1.0;
        };
        let Some(totals) = &self.totals else {
            let from = uncertain.div_ceil(self.step) as f64 - 0.5;
            let mean = self.mean - self.certain as f64;
            return Normal::standard().sf((from * self.step as f64 - mean) / self.variance.sqrt());
        };
        totals.iter().rev().take_while(|(total, _)| *total >= uncertain).map(|(_, chance)| chance).sum()
    }
}

fn trim(totals: &mut Vec<(u64, f64)>) {
    let negligible = |lost: &mut f64, (_, chance): &(u64, f64)| {
        *lost += chance;
        (*lost < NEGLIGIBLE).then_some(())
    };
    let above = totals.iter().rev().scan(0.0, negligible).count();
    totals.truncate(totals.len().saturating_sub(above));
    let below = totals.iter().scan(0.0, negligible).count();
    totals.drain(..below);
}

fn common_divisor(mut one: u64, mut other: u64) -> u64 {
    while other > 0 {
        (one, other) = (other, one % other);
    }
    one
}
