//! A made-up breeding house for the simulations: cohorts that die at known rates, thinned by deaths and sales and moulting
//! on, with losses found only when somebody looks. Seeded, so that each run is the same.

use chrono::{Days, NaiveDate};
use silkward::reckoning::loss_alarm::{
    Baseline, COHORTS_OF_A_HOUSE, Day, LEAST_LOSSES, Level, Series, Stratum, Tally, Watched, judge, usual_rate,
};
use silkward::reckoning::stage::Stage;

use super::on;

/// `SplitMix64`, kept here so that another version of a crate doesn't change the runs (Steele, Lea & Flood 2014).
pub struct Dice(pub u64);

impl Dice {
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    pub fn below(&mut self, bound: usize) -> usize {
        (self.unit() * bound as f64) as usize
    }

    /// A normal deviate, near enough: twelve uniform ones added up.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }

    /// A Poisson number, by multiplying uniform ones; for means up to some hundreds.
    pub fn poisson(&mut self, mean: f64) -> u32 {
        let end = (-mean).exp();
        let (mut number, mut product) = (0, self.unit());
        while product > end {
            product *= self.unit();
            number += 1;
        }
        number
    }

    /// How many of a number are hit, each with a small chance.
    fn hits(&mut self, of: u32, chance: f64) -> u32 {
        self.poisson(f64::from(of) * chance).min(of)
    }
}

const STAGES: [Stage; 3] = [Stage::Instar(2), Stage::Instar(3), Stage::Instar(4)];
const YEAR: usize = 365;
const SPECIES: usize = 6;
/// The first cohort of a house gets worse when it has been there for so many days.
const WORSE_FROM_AGE: usize = 40;

/// How a house is.
#[derive(Clone, Copy)]
pub struct Plan {
    /// Somebody looks over a cohort every so many days.
    pub look_every: usize,
    /// How far the true rates of cohorts of one species differ (standard deviation of the logarithm).
    pub cohorts_differ: f64,
    /// The range from which the species' true survivals in 90 days as second instar are drawn.
    pub survival: (f64, f64),
    /// Whether each alarm is looked into on its day, so that its losses don't count again.
    pub looked_into: bool,
    /// What the first cohort's hazard is multiplied by after a while.
    pub worse: f64,
}

/// Common practice's range, and cohorts of a species that differ by a tenth.
pub const IN_ORDER: Plan = Plan { look_every: 1, cohorts_differ: 0.1, survival: (0.80, 0.95), looked_into: false, worse: 1.0 };

/// A house: the true rate of each species as a multiple of common practice's, and what was learnt in the years before.
pub struct House {
    dice: Dice,
    plan: Plan,
    rates: Vec<f64>,
    past: Vec<[Tally; 3]>,
    cohorts: Vec<Cohort>,
}

struct Cohort {
    species: usize,
    arrived: usize,
    series: [Series; 3],
    looks: Vec<NaiveDate>,
    /// What was seen up to the end of each day, by stage.
    seen: Vec<[Tally; 3]>,
}

fn date(day: usize) -> NaiveDate {
    on("2026-01-01") + Days::new(day as u64)
}

impl House {
    /// A house in its first year. The true rates of its species are multiples of the usual ones, which have 87.5 % survive.
    pub fn new(seed: u64, plan: Plan) -> Self {
        let mut dice = Dice(seed);
        let (low, high) = plan.survival;
        let rates = (0..SPECIES).map(|_| dice.between(low, high).ln() / 0.875_f64.ln()).collect();
        let past = vec![[Tally::default(); 3]; SPECIES];
        let mut house = Self { dice, plan, rates, past, cohorts: Vec::new() };
        house.live_a_year();
        house
    }

    /// The next year: new cohorts, and the losses of the old ones known.
    pub fn next_year(&mut self) {
        for cohort in &self.cohorts {
            let learnt = &mut self.past[cohort.species];
            *learnt = [0, 1, 2].map(|stage| learnt[stage].and(cohort.seen[YEAR - 1][stage]));
        }
        self.live_a_year();
    }

    /// 20 cohorts of 40 to 300, half there from the start, the others arriving over the first half year.
    fn live_a_year(&mut self) {
        let cohort = |number: usize| {
            let arrived = if number.is_multiple_of(2) { 0 } else { self.dice.below(180) };
            let species = self.dice.below(SPECIES);
            let rate = self.rates[species] * (self.plan.cohorts_differ * self.dice.normal()).exp();
            let worse = if number == 0 { self.plan.worse } else { 1.0 };
            let first_look = self.dice.below(self.plan.look_every);
            let mut life = Life::new(&mut self.dice, rate, worse, arrived);
            for today in 0..YEAR {
                life.day(&mut self.dice, today, today % self.plan.look_every == first_look);
            }
            let looks = if self.plan.look_every == 1 { Vec::new() } else { life.looks };
            Cohort { species, arrived, series: life.days.map(|days| Series::new(days).unwrap()), looks, seen: life.seen }
        };
        self.cohorts = (0..COHORTS_OF_A_HOUSE as usize).map(cohort).collect();
    }

    /// From the next year on its first cohort gets worse.
    pub fn set_worse(&mut self, times: f64) {
        self.plan.worse = times;
    }

    /// How many alarms rise in the year, every cohort judged every day.
    pub fn alarms(&self) -> usize {
        (0..self.cohorts.len()).map(|number| self.alarm_days(number).len()).sum()
    }

    /// For how many days the first cohort was worse when it alarmed.
    pub fn delay(&self) -> Option<usize> {
        self.alarm_days(0).into_iter().find_map(|day| day.checked_sub(WORSE_FROM_AGE))
    }

    /// The days on which a cohort's alarm rises.
    fn alarm_days(&self, number: usize) -> Vec<usize> {
        let cohort = &self.cohorts[number];
        let (mut risen, mut alarmed, mut looked_into) = (Vec::new(), false, None);
        for today in cohort.arrived..YEAR {
            // Without three losses in 28 days and a look before them there is no alarm, so no need to judge.
            if self.lost_lately(cohort, today) < LEAST_LOSSES {
                alarmed = false;
                continue;
            }
            let strata = [0, 1, 2].map(|stage| Stratum {
                stage: STAGES[stage],
                days: cohort.series[stage].clone(),
                baseline: self.baseline(number, stage, today),
            });
            let watched = Watched { strata: &strata, looks: &cohort.looks, looked_into };
            let alarms = judge(&watched, date(today)).level == Level::Alarm;
            if alarms && !alarmed {
                risen.push(today);
            }
            if alarms && self.plan.looked_into {
                looked_into = Some(date(today));
            }
            alarmed = alarms;
        }
        risen
    }

    fn lost_lately(&self, cohort: &Cohort, today: usize) -> u64 {
        let before = today.checked_sub(28 + self.plan.look_every);
        let lost = |day: usize| cohort.seen[day].iter().map(|tally| tally.lost).sum::<u64>();
        lost(today) - before.map_or(0, lost)
    }

    /// As `seen_before` has it, from running sums.
    fn baseline(&self, number: usize, stage: usize, today: usize) -> Baseline {
        let species = self.cohorts[number].species;
        let mut seen = self.past[species][stage];
        for (other, cohort) in self.cohorts.iter().enumerate().filter(|(_, cohort)| cohort.species == species) {
            let until = if other == number { today.checked_sub(28) } else { Some(today) };
            seen = seen.and(until.map_or(Tally::default(), |until| cohort.seen[until][stage]));
        }
        Baseline::new(STAGES[stage], seen)
    }
}

/// A cohort as it lives, and its book.
struct Life {
    rate: f64,
    worse: f64,
    arrived: usize,
    alive: [u32; 3],
    unfound: [u32; 3],
    days: [Vec<Day>; 3],
    running: [Tally; 3],
    looks: Vec<NaiveDate>,
    seen: Vec<[Tally; 3]>,
}

impl Life {
    fn new(dice: &mut Dice, rate: f64, worse: f64, arrived: usize) -> Self {
        let alive = [dice.between(40.0, 300.0) as u32, 0, 0];
        let (unfound, running) = ([0; 3], [Tally::default(); 3]);
        let (days, looks, seen) = (Default::default(), Vec::new(), Vec::new());
        Self { rate, worse, arrived, alive, unfound, days, running, looks, seen }
    }

    fn day(&mut self, dice: &mut Dice, today: usize, looked: bool) {
        if let Some(age) = today.checked_sub(self.arrived) {
            let before = [0, 1, 2].map(|stage| self.alive[stage] + self.unfound[stage]);
            self.die_moult_and_go(dice, age);
            let lost = if looked { std::mem::take(&mut self.unfound) } else { [0; 3] };
            if looked {
                self.looks.push(date(today));
            }
            for stage in 0..3 {
                let at_risk = self.alive[stage] + self.unfound[stage] + lost[stage];
                if age == 0 || lost[stage] > 0 || at_risk != before[stage] {
                    self.days[stage].push(Day { day: date(today), at_risk, lost: lost[stage], missing: 0 });
                }
                let seen = Tally { lost: lost[stage].into(), exposure: at_risk.into(), missing: 0 };
                self.running[stage] = self.running[stage].and(seen);
            }
        }
        self.seen.push(self.running);
    }

    /// Deaths, moults from some age on, and after two months a sale a week.
    fn die_moult_and_go(&mut self, dice: &mut Dice, age: usize) {
        let worse = if age >= WORSE_FROM_AGE { self.worse } else { 1.0 };
        for (stage, of) in STAGES.into_iter().enumerate() {
            let died = dice.hits(self.alive[stage], usual_rate(of) * self.rate * worse);
            self.alive[stage] -= died;
            self.unfound[stage] += died;
        }
        for (stage, from_age) in [(1, 150), (0, 45)] {
            let moulted = if age >= from_age { dice.hits(self.alive[stage], 0.03) } else { 0 };
            self.alive[stage] -= moulted;
            self.alive[stage + 1] += moulted;
        }
        if age >= 60 && age.is_multiple_of(7) {
            for number in &mut self.alive {
                *number -= dice.hits(*number, 0.06);
            }
        }
    }
}
