//! How long the heavy reckonings take, at sizes from a house's to far beyond it: `cargo bench`. Each is run a few times and the
//! median is printed. Nothing here passes or fails: what must hold is held by the tests.

#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

#[path = "bench/pedigree.rs"]
mod pedigree;
#[path = "bench/planner.rs"]
mod planner;
#[path = "bench/rota.rs"]
mod rota;
#[path = "bench/survival.rs"]
mod survival;

use std::hint::black_box;
use std::time::{Duration, Instant};

fn main() {
    let wanted = std::env::args().nth(1).filter(|name| !name.starts_with("--")).unwrap_or_default();
    let benches: [(&str, fn()); 4] =
        [("survival", survival::run), ("pedigree", pedigree::run), ("rota", rota::run), ("planner", planner::run)];
    for (name, run) in benches.into_iter().filter(|(name, _)| name.contains(&wanted)) {
        println!("\n{name}");
        run();
    }
}

/// The median time of some runs.
pub fn median<T>(runs: usize, mut work: impl FnMut() -> T) -> Duration {
    let mut times: Vec<Duration> = (0..runs)
        .map(|_| {
            let started = Instant::now();
            black_box(work());
            started.elapsed()
        })
        .collect();
    times.sort_unstable();
    times[times.len() / 2]
}

/// Prints a line: what, how long, and what else there is to say.
pub fn line(what: &str, took: Duration, more: &str) {
    println!("  {what:<44} {:>10.1} ms  {more}", took.as_secs_f64() * 1e3);
}

/// The most memory that this process has held so far, MiB; nothing where the system does not say.
pub fn peak_mib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? / 1024)
}
