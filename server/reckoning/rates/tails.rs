//! Exact tails of the Poisson and binomial distributions, and of the two that allow for a rate or share that is itself
//! only known from counts: negative binomial and beta-binomial.
//!
//! Masses by Loader, Fast and accurate computation of binomial probabilities (2000), from memory: the deviance and the
//! error of Stirling's formula are reckoned apart, so that nothing cancels. A tail is the sum of its masses, taken from
//! the side on which they fall, and stops when a mass no longer changes the sum.

use statrs::function::gamma::{gamma_ur, ln_gamma};

use super::{MOST_COUNTED, RateError};

/// Beyond this count the noise of counting is nothing beside that of the rate: the negative binomial tail is taken as
/// that of its gamma distribution.
const MOST_SUMMED: u64 = 100_000;

/// P(X ≥ count) for a Poisson number of the given mean.
///
/// # Errors
/// A mean that is not a number from 0 up; counts above [`MOST_COUNTED`].
pub fn poisson_upper_tail(count: u64, mean: f64) -> Result<f64, RateError> {
    counted(count, RateError::CountTooLarge)?;
    if !(0.0..=MOST_COUNTED as f64).contains(&mean) {
        return Err(RateError::Mean);
    }
    Ok(poisson_upper(count, mean))
}

/// P(X ≥ count) for a binomial number: how many of `total` when each is hit with the given probability.
///
/// # Errors
/// A probability outside 0 to 1; more counted than there are; totals above [`MOST_COUNTED`].
pub fn binomial_upper_tail(count: u64, total: u64, probability: f64) -> Result<f64, RateError> {
    counted(total, RateError::TotalTooLarge)?;
    if count > total {
        return Err(RateError::MoreThanAll);
    }
    if !(0.0..=1.0).contains(&probability) {
        return Err(RateError::Probability);
    }
    Ok(binomial_upper(count, total, probability))
}

/// P(X ≥ count) for a Poisson number whose mean is itself uncertain, gamma-distributed about `mean` with the given
/// shape: the negative binomial. A shape of n is the certainty that n losses seen before would give.
///
/// # Errors
/// A mean that is not a number above zero, a shape below 0.1; counts above [`MOST_COUNTED`].
pub fn negative_binomial_upper_tail(count: u64, mean: f64, shape: f64) -> Result<f64, RateError> {
    counted(count, RateError::CountTooLarge)?;
    if !(mean > 0.0 && mean <= MOST_COUNTED as f64) {
        return Err(RateError::Mean);
    }
    if !(0.1..=MOST_COUNTED as f64).contains(&shape) {
        return Err(RateError::Shape);
    }
    Ok(negative_binomial_upper(count, mean, shape))
}

/// P(X ≥ count) of `total` when the share is itself uncertain, beta-distributed as after `hits` and `misses` were seen
/// and with every share as likely before: the beta-binomial, Beta(hits + 1, misses + 1).
///
/// # Errors
/// More counted than there are; totals above a million, hits or misses above [`MOST_COUNTED`].
pub fn beta_binomial_upper_tail(count: u64, total: u64, hits: u64, misses: u64) -> Result<f64, RateError> {
    if count > total {
        return Err(RateError::MoreThanAll);
    }
    if total > 1_000_000 || hits.max(misses) > MOST_COUNTED {
        return Err(RateError::TotalTooLarge);
    }
    Ok(beta_binomial_upper(count, total, hits as f64 + 1.0, misses as f64 + 1.0))
}

fn counted(number: u64, error: RateError) -> Result<(), RateError> {
    if number <= MOST_COUNTED { Ok(()) } else { Err(error) }
}

/// Poisson mass at a count; the mean is a number from 0 up.
pub(in crate::reckoning) fn poisson_mass(count: u64, mean: f64) -> f64 {
    let x = count as f64;
    match (count, mean) {
        (0, _) => (-mean).exp(),
        (_, 0.0) => 0.0,
        _ => (-stirling_error(x) - deviance(x, mean)).exp() / (std::f64::consts::TAU * x).sqrt(),
    }
}

/// Upper Poisson tail; the mean is a number from 0 up.
pub(in crate::reckoning) fn poisson_upper(count: u64, mean: f64) -> f64 {
    if count == 0 {
        return 1.0;
    }
    if count as f64 > mean {
        return summed(poisson_mass(count, mean), count.., |at| mean / (at as f64 + 1.0)).min(1.0);
    }
    1.0 - poisson_lower(count - 1, mean)
}

/// Lower Poisson tail, P(X ≤ count), for a count below the mean.
pub(super) fn poisson_lower(count: u64, mean: f64) -> f64 {
    summed(poisson_mass(count, mean), (0..=count).rev(), |at| at as f64 / mean)
}

/// Upper binomial tail; the probability is from 0 to 1 and the count at most the total.
pub(super) fn binomial_upper(count: u64, total: u64, probability: f64) -> f64 {
    if count == 0 {
        return 1.0;
    }
    if count as f64 > total as f64 * probability {
        let odds = probability / (1.0 - probability);
        let ratio = |at: u64| (total - at) as f64 / (at as f64 + 1.0) * odds;
        return summed(binomial_mass(count, total, probability), count..total, ratio).min(1.0);
    }
    1.0 - binomial_lower(count - 1, total, probability)
}

/// Lower binomial tail, P(X ≤ count), for a count below the mean.
pub(super) fn binomial_lower(count: u64, total: u64, probability: f64) -> f64 {
    let against = (1.0 - probability) / probability;
    let ratio = |at: u64| at as f64 / ((total - at) as f64 + 1.0) * against;
    summed(binomial_mass(count, total, probability), (0..=count).rev(), ratio)
}

/// Binomial mass; the count is at most the total.
fn binomial_mass(count: u64, total: u64, probability: f64) -> f64 {
    let (x, n, rest) = (count as f64, total as f64, (total - count) as f64);
    let against = 1.0 - probability;
    if count == 0 {
        return (n * (-probability).ln_1p()).exp();
    }
    if count == total {
        return (n * probability.ln()).exp();
    }
    if probability == 0.0 || against == 0.0 {
        return 0.0;
    }
    let stirling = stirling_error(n) - stirling_error(x) - stirling_error(rest);
    let log = stirling - deviance(x, n * probability) - deviance(rest, n * against);
    log.exp() / (std::f64::consts::TAU * x * (rest / n)).sqrt()
}

fn negative_binomial_upper(count: u64, mean: f64, shape: f64) -> f64 {
    if count == 0 {
        return 1.0;
    }
    if count > MOST_SUMMED {
        return gamma_ur(shape, count as f64 / mean * shape);
    }
    // Mass at a count: Γ(count + shape) ÷ (Γ(shape) count!) × (1 − hit)^shape × hit^count.
    let hit = mean / (shape + mean);
    let mass = |at: u64| {
        let x = at as f64;
        let ways = ln_gamma(x + shape) - ln_gamma(shape) - ln_gamma(x + 1.0);
        (ways - shape * (mean / shape).ln_1p() + x * hit.ln()).exp()
    };
    if count as f64 > mean {
        return summed(mass(count), count.., |at| (at as f64 + shape) / (at as f64 + 1.0) * hit).min(1.0);
    }
    let below = count - 1;
    1.0 - summed(mass(below), (0..=below).rev(), |at| at as f64 / (at as f64 - 1.0 + shape) / hit)
}

fn beta_binomial_upper(count: u64, total: u64, hits: f64, misses: f64) -> f64 {
    if count == 0 {
        return 1.0;
    }
    let (x, n) = (count as f64, total as f64);
    let beta = |a: f64, b: f64| ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b);
    let ways = ln_gamma(n + 1.0) - ln_gamma(x + 1.0) - ln_gamma(n - x + 1.0);
    let mass = (ways + beta(x + hits, n - x + misses) - beta(hits, misses)).exp();
    let ratio = |at: u64| {
        let (at, left) = (at as f64, (total - at) as f64);
        (at + hits) / (at + 1.0) * (left / (left - 1.0 + misses))
    };
    summed(mass, count..total, ratio).min(1.0)
}

/// A first mass and those after it, each the one before times the ratio at its place. Masses may rise before they
/// fall, so it stops only where they fall and no longer count.
fn summed(first: f64, places: impl Iterator<Item = u64>, ratio: impl Fn(u64) -> f64) -> f64 {
    let (mut mass, mut sum) = (first, first);
    for place in places {
        let step = ratio(place);
        mass *= step;
        sum += mass;
        if mass == 0.0 || (step < 1.0 && mass <= sum * 1e-18 * (1.0 - step)) {
            break;
        }
    }
    sum
}

/// ln n! less Stirling's formula for it: ln n! − (n + ½) ln n + n − ½ ln 2π.
fn stirling_error(n: f64) -> f64 {
    if n < 16.0 {
        let factorial: f64 = (1..=n as u32).map(f64::from).product();
        return factorial.ln() - (n + 0.5) * n.ln() + n - 0.5 * std::f64::consts::TAU.ln();
    }
    let square = n * n;
    let series = 1.0 / 1680.0 - 1.0 / (1188.0 * square);
    let series = 1.0 / 1260.0 - series / square;
    let series = 1.0 / 360.0 - series / square;
    (1.0 / 12.0 - series / square) / n
}

/// x ln(x ÷ m) + m − x, without loss where the two are near each other.
fn deviance(x: f64, m: f64) -> f64 {
    let (apart, both) = (x - m, x + m);
    if apart.abs() >= 0.1 * both {
        return x * (x / m).ln() + m - x;
    }
    let v = apart / both;
    let mut sum = apart * v;
    let mut term = 2.0 * x * v;
    for odd in (3_u32..).step_by(2) {
        term *= v * v;
        let next = sum + term / f64::from(odd);
        if next == sum {
            break;
        }
        sum = next;
    }
    sum
}
