//! Inbreeding of whole books: overlapping generations that mate at random, and the worst shape, long lines of full sibs.

use rand::rngs::StdRng;
use rand::{RngExt as _, SeedableRng as _};
use silkward::reckoning::pedigree::{Individual, Pedigree};

use super::{line, median, peak_mib};

/// A tenth are founders; each of the others has parents out of the two thousand before it.
fn overlapping(size: i64) -> Vec<Individual<i64>> {
    let mut rng = StdRng::seed_from_u64(3);
    (0..size)
        .map(|id| {
            let mut parent = || (id >= size / 10).then(|| rng.random_range((id - 2_000).max(0)..id));
            let (dam, sire) = (parent(), parent());
            Individual { id, dam, sire: sire.filter(|sire| Some(*sire) != dam) }
        })
        .collect()
}

/// Pairs of full sibs, each pair out of the pair before it.
fn sib_line(size: i64) -> Vec<Individual<i64>> {
    (0..size)
        .map(|id| {
            let before = id - id % 2;
            let of = |parent: i64| (before >= 2).then_some(parent);
            Individual { id, dam: of(before - 2), sire: of(before - 1) }
        })
        .collect()
}

pub fn run() {
    for (what, animals) in [
        ("5,000 animals, overlapping generations", overlapping(5_000)),
        ("100,000 animals, overlapping generations", overlapping(100_000)),
        ("5,000 animals, full sibs for 2,500 generations", sib_line(5_000)),
    ] {
        let mut mean = 0.0;
        let took = median(if animals.len() > 10_000 { 1 } else { 3 }, || {
            let pedigree = Pedigree::new(&animals).unwrap();
            let inbreeding = pedigree.inbreeding().unwrap();
            mean = inbreeding.all().map(|(_, of)| of).sum::<f64>() / animals.len() as f64;
        });
        let peak = peak_mib().map_or_else(String::new, |mib| format!(", at most {mib} MiB so far"));
        line(what, took, &format!("mean F {mean:.4}{peak}"));
    }
}
