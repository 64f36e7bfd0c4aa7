//! Houses whose moults are drawn from a known truth, to see what is forecast of them.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use chrono::{Days, NaiveDate};
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use silkward::reckoning::moult::calibration::SpeciesLog;
use silkward::reckoning::moult::history::{History, Moult};
use silkward::reckoning::words::LifeStage;

use super::on;

/// The true medians of days between moults, and how many moults an animal spends in the stage.
const TRUTH: [(LifeStage, f64, usize); 3] =
    [(LifeStage::Spiderling, 45.0, 5), (LifeStage::Juvenile, 100.0, 4), (LifeStage::Adult, 320.0, 99)];

/// A house with one species.
#[derive(Clone, Copy)]
pub struct House {
    /// Standard deviation of ln(days) within an animal.
    pub within: f64,
    /// Standard deviation of ln(days) between animals.
    pub between: f64,
    /// The usual range's middle over the true median.
    pub off: f64,
    /// The usual range's width over that which holds 80 % of the intervals, in logarithms.
    pub wide: f64,
    /// How many animals come into the house.
    pub animals: usize,
    /// Over how many days they come, and from then on the book is kept for as long again.
    pub days: u64,
    /// The chance that an animal leaves within its next 100 days.
    pub leaving: f64,
    pub seed: u64,
}

impl House {
    /// 120 animals that come over three years, in a book of six; one in six leaves every hundred days.
    pub fn of(within: f64, between: f64, seed: u64) -> Self {
        Self { within, between, off: 1.0, wide: 1.0, animals: 120, days: 3 * 365, leaving: 0.16, seed }
    }

    /// The last day of its book.
    pub fn today(&self) -> NaiveDate {
        on("2020-01-01") + Days::new(2 * self.days)
    }

    /// Its usual ranges: right when `off` and `wide` are 1.
    pub fn usual(&self) -> BTreeMap<LifeStage, (u32, u32)> {
        let half = 1.281_551_565_545 * self.within.hypot(self.between) * self.wide;
        let range = |median: f64| ((median * self.off * (-half).exp()).round() as u32, (median * self.off * half.exp()).round() as u32);
        TRUTH.iter().map(|&(stage, median, _)| (stage, range(median))).collect()
    }

    /// Its book.
    pub fn log(&self) -> SpeciesLog {
        let mut rng = StdRng::seed_from_u64(self.seed);
        let histories = (0..self.animals).map(|_| self.animal(&mut rng)).collect();
        SpeciesLog { species: "Brachypelma hamorii".to_owned(), usual: self.usual(), histories }
    }

    fn animal(&self, rng: &mut StdRng) -> History {
        let own = self.between * normal(rng);
        let came = rng.random_range(0..self.days);
        let stay = if self.leaving > 0.0 { -100.0 * (1.0 - rng.random::<f64>()).ln() / -(1.0 - self.leaving).ln() } else { f64::INFINITY };
        let end = (came as f64 + stay).min(2.0 * self.days as f64);
        let left_on = (end < 2.0 * self.days as f64).then(|| on("2020-01-01") + Days::new(end as u64));
        // It comes as a spiderling, a juvenile or an adult.
        let mut number = [0, 3, 5, 8, 12][rng.random_range(0..5)];
        let (mut at, mut moults) = (came as f64, Vec::new());
        while at < end {
            let day = on("2020-01-01") + Days::new(at as u64);
            let late = if rng.random::<f64>() < 0.2 { rng.random_range(1..6) } else { 0 };
            let (stage, median) = stage_after(number);
            moults.push(Moult { on: day, recorded_on: day + Days::new(late), stage });
            at += (median.ln() + own + self.within * normal(rng)).exp();
            number += 1;
        }
        History::new(moults, left_on)
    }
}

fn stage_after(number: usize) -> (LifeStage, f64) {
    let mut passed = 0;
    for (stage, median, moults) in TRUTH {
        passed += moults;
        if number < passed {
            return (stage, median);
        }
    }
    (LifeStage::Adult, 320.0)
}

/// A standard normal number (Box & Muller 1958).
pub fn normal(rng: &mut StdRng) -> f64 {
    let (first, second): (f64, f64) = (1.0 - rng.random::<f64>(), rng.random());
    (-2.0 * first.ln()).sqrt() * (TAU * second).cos()
}
