//! Prey: how many will be eaten, how many must be prepared, and how long a stock lasts.
//!
//! Each animal that is offered prey takes all of it with a chance of its own, or none; animals do so independently of
//! each other. Prey eaten is then the sum of preyᵢ × Bernoulli(pᵢ). Its distribution is reckoned exactly, by
//! convolution, for as long as that is quick; beyond that by a normal approximation with continuity correction.

mod choice;
mod eaten;
mod need;
mod order;
mod stock;

use serde::{Deserialize, Serialize};

use eaten::Eaten;

pub use choice::{Chosen, Eater, PreyKind, PreyRule, SizeClass, class_of, longest_mm, usual};
pub use need::{DayNeed, PeriodNeed, PlannedFeed, need, period_need};
pub use order::{Order, Policy, order};
pub use stock::{StockLasts, days_of_stock};

/// The share of offers that a feeding animal usually takes (common practice, no source).
pub const USUAL_ACCEPTANCE: f64 = 0.85;
/// How many offers of its own weigh as much as the usual share (common practice, no source).
pub const USUAL_WEIGHT_OFFERS: f64 = 6.0;

/// The share of offers that an animal takes, from 0 to 1: its own, drawn towards the usual one.
///
/// The mean of a Beta posterior: (taken + 6 × 0.85) / (offered + 6), where the prior Beta(5.1, 0.9) weighs as much as
/// six offers. With no offers on record it is the usual share. More taken than offered counts as all taken.
pub fn acceptance(offered: u32, taken: u32) -> f64 {
    let (offered, taken) = (f64::from(offered), f64::from(taken.min(offered)));
    (taken + USUAL_WEIGHT_OFFERS * USUAL_ACCEPTANCE) / (offered + USUAL_WEIGHT_OFFERS)
}

/// What an animal's acceptance rests on, in words.
pub fn acceptance_in_words(offered: u32, taken: u32) -> String {
    let rate = acceptance(offered, taken) * 100.0;
    let usual = USUAL_ACCEPTANCE * 100.0;
    match offered {
        0 => format!("{rate:.0} %: no offers on record, so the usual share"),
        _ => format!("{rate:.0} %: took {} of {offered} offers, drawn towards the usual {usual:.0} %", taken.min(offered)),
    }
}

/// An offer of prey to one animal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Feeding {
    /// The chance that it takes the prey, from 0 to 1.
    pub probability: f64,
    /// How many prey it eats if it does.
    pub prey: u32,
}

/// Why prey was not forecast. `at` counts from 0 in the list that was given.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PreyError {
    /// A chance that is not a number from 0 to 1.
    #[error("the chance that prey is taken must be a number from 0 to 1")]
    Probability {
        /// Which feeding.
        at: usize,
    },
    /// Fewer prey prepared than eaten.
    #[error("at least as many prey must be offered as the animal eats")]
    Offered {
        /// Which feeding.
        at: usize,
    },
    /// A stock of one kind and size was held against feedings of another.
    #[error("a stock is of one kind and size; leave out the feedings with any other")]
    Mixed {
        /// The first feeding that differs.
        at: usize,
    },
}

coded_enum! {
    /// How a distribution was reckoned.
    Method, "method" {
        Exact = "exact", "exact convolution";
        Normal = "normal", "normal approximation";
    }
}

/// How many prey will be eaten.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Forecast {
    /// How many offers.
    pub feedings: usize,
    /// How many prey if every animal takes its own.
    pub most: u64,
    /// The mean, in prey.
    pub mean: f64,
    /// The variance, in prey squared.
    pub variance: f64,
    /// The smallest number that will not be exceeded with a chance of 5 % or more.
    pub p05: u64,
    /// The same with 50 %: the median.
    pub p50: u64,
    /// The same with 95 %.
    pub p95: u64,
    /// How it was reckoned.
    pub method: Method,
    /// The forecast in words.
    pub summary: String,
}

/// How many prey will be eaten at these feedings.
///
/// # Errors
/// A chance that is not a number from 0 to 1.
pub fn forecast(feedings: &[Feeding]) -> Result<Forecast, PreyError> {
    let mut eaten = Eaten::none(eaten::MOST_STEPS);
    for (at, feeding) in feedings.iter().enumerate() {
        eaten.add(checked(*feeding, at)?);
    }
    let (p05, p50, p95) = eaten.quantiles();
    let most = eaten.most();
    Ok(Forecast {
        feedings: feedings.len(),
        most,
        mean: eaten.mean(),
        variance: eaten.variance(),
        p05,
        p50,
        p95,
        method: eaten.method(),
        summary: in_words(feedings.len(), most, (p05, p50, p95)),
    })
}

fn in_words(feedings: usize, most: u64, (p05, p50, p95): (u64, u64, u64)) -> String {
    let at = if feedings == 1 { "1 feeding".to_owned() } else { format!("{feedings} feedings") };
    format!("{p50} of at most {most} prey eaten at {at}; 9 times in 10 from {p05} to {p95}")
}

fn checked(feeding: Feeding, at: usize) -> Result<Feeding, PreyError> {
    if (0.0..=1.0).contains(&feeding.probability) { Ok(feeding) } else { Err(PreyError::Probability { at }) }
}
