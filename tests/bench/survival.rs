//! A thousand cohorts of three hundred, each followed by itself, and all compared.

use rand::rngs::StdRng;
use rand::{RngExt as _, SeedableRng as _};
use silkward::reckoning::survival::{End, Followed, Group, Observation, kaplan_meier, log_rank};

use super::{line, median};

fn cohort(rng: &mut StdRng) -> Followed {
    let ends = (0..300).map(|_| Observation {
        day: rng.random_range(0..700),
        count: 1,
        event: if rng.random_bool(0.3) { End::Lost } else { End::Left },
    });
    Followed { entries: Vec::new(), ends: ends.collect() }
}

pub fn run() {
    let mut rng = StdRng::seed_from_u64(1);
    let cohorts: Vec<Followed> = (0..1_000).map(|_| cohort(&mut rng)).collect();
    let took = median(5, || cohorts.iter().map(|cohort| kaplan_meier(cohort, None).unwrap().survival.len()).sum::<usize>());
    line("Kaplan-Meier, 1,000 cohorts of 300", took, "with limits, median and restricted mean");
    let groups: Vec<Group> =
        cohorts.iter().take(100).enumerate().map(|(at, cohort)| Group { label: at.to_string(), followed: cohort.clone() }).collect();
    let took = median(3, || log_rank(&groups).unwrap());
    line("log-rank, 100 cohorts of 300", took, "");
}
