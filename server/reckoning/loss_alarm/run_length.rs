//! How long a Poisson cumulative sum runs until it signals, on average: a Markov chain over the values that the sum can
//! take (Brook & Evans, Biometrika 59: 539-549, 1972; Lucas, Technometrics 27: 129-144, 1985).

use super::cusum::CusumError;
use crate::reckoning::rates::{poisson_mass, poisson_upper};

/// The most states of the chain.
const MOST_STATES: f64 = 1200.0;
/// The smallest mean and reference.
const SMALLEST: f64 = 1e-12;
/// The largest mean, reference and threshold.
const LARGEST: f64 = 500.0;

/// The mean number of periods until a sum that starts at zero is above the threshold, when each period counts a Poisson
/// number of the given mean and takes off the reference. Infinite where it is beyond all numbers.
///
/// Exact where the reference is a fraction with a denominator up to 64. Between such fractions the logarithm of the run
/// length is interpolated; a reference below about 1/150 of the threshold is reckoned over several periods at a time.
///
/// # Errors
/// A mean or reference that is not from 1e-12 to 500; a threshold not from 0 to 500.
pub fn average_run_length(mean: f64, reference: f64, threshold: f64) -> Result<f64, CusumError> {
    let usual = SMALLEST..=LARGEST;
    if !usual.contains(&mean) || !usual.contains(&reference) || !(0.0..=LARGEST).contains(&threshold) {
        return Err(CusumError::RunLength);
    }
    // So many periods together that the steps are not too fine for the chain, but not so many that several are counted.
    let together = (threshold / 150.0 / reference).min(0.25 / mean).ceil().max(1.0);
    let (mean, reference) = (mean * together, reference * together);
    let most = (MOST_STATES / threshold.max(1.0)).floor();
    let exact = (1..=64_u32).map(f64::from).filter(|parts| *parts <= most).find(|parts| {
        let taken = reference * parts;
        taken >= 0.5 && (taken - taken.round()).abs() <= 1e-9 * taken
    });
    if let Some(parts) = exact {
        return Ok(together * chain(mean, (reference * parts).round(), parts, threshold));
    }
    let parts = (24.0 / reference).max(60.0 / threshold.max(0.05)).ceil().clamp(1.0, most);
    let taken = (reference * parts).floor();
    let (low, high) = (chain(mean, taken, parts, threshold).ln(), chain(mean, taken + 1.0, parts, threshold).ln());
    if low.is_infinite() {
        return Ok(low);
    }
    Ok(together * (low + (high - low) * (reference * parts - taken)).exp())
}

/// What leads out of a state: into each state that is left, out of the chain, and the time spent.
struct Ways {
    into: Vec<f64>,
    out: f64,
    time: f64,
}

/// The run length from zero for a reference of `taken` parts of 1 ÷ `parts`.
///
/// States are taken out from the top without a subtraction, so that run lengths of any size keep their figures
/// (Grassmann, Taksar & Heyman, Oper. Res. 33: 1107-1116, 1985, from memory).
fn chain(mean: f64, taken: f64, parts: f64, threshold: f64) -> f64 {
    // All are whole numbers far below 2^53: parts and states up to 1200, taken up to 500 × 1200.
    let (taken, parts) = (taken as i64, parts as i64);
    let highest = (threshold * parts as f64 + 1e-9).floor() as i64;
    let mut states: Vec<Ways> = (0..=highest).map(|state| ways(mean, state, highest, taken, parts)).collect();
    let reach = usize::try_from(taken).unwrap_or(usize::MAX);
    while states.len() > 1 {
        let Some(last) = states.pop() else { break };
        let left = states.len();
        // No state is left downwards by more than the reference, so nothing leads further down than this.
        let lowest = left.saturating_sub(reach);
        let leaving = last.into.iter().take(left).sum::<f64>() + last.out;
        for state in &mut states {
            let share = state.into.pop().unwrap_or(0.0) / leaving;
            if share > 0.0 {
                let further = last.into.iter().take(left).skip(lowest);
                state.into.iter_mut().skip(lowest).zip(further).for_each(|(into, more)| *into += share * more);
                state.out += share * last.out;
                state.time += share * last.time;
            }
        }
    }
    states.first().map_or(f64::INFINITY, |state| state.time / state.out)
}

fn ways(mean: f64, state: i64, highest: i64, taken: i64, parts: i64) -> Ways {
    let mut into = vec![0.0; usize::try_from(highest + 1).unwrap_or(0)];
    let room = highest + taken - state;
    let fits = room / parts;
    for count in 0..=fits {
        let to = usize::try_from((state + parts * count - taken).max(0)).unwrap_or(0);
        if let Some(way) = into.get_mut(to) {
            *way += poisson_mass(count.unsigned_abs(), mean);
        }
    }
    Ways { into, out: poisson_upper(fits.unsigned_abs() + 1, mean), time: 1.0 }
}
