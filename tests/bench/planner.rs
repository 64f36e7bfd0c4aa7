//! The day's duties of houses of one thousand to one million animals. The growth exponent is the slope between two sizes on
//! logarithmic scales: 1 means that twice the animals take twice as long.

use silkward::reckoning::hazard::ExposureTable;
use silkward::reckoning::planner::{AnimalFacts, CohortFacts, LeftIn, SacFacts, SiteRules, Subject, look_ahead, plan};

use super::{line, median};

#[path = "../reckoning/subjects.rs"]
#[expect(dead_code, reason = "the tests use more of it")]
mod subjects;

/// A day, for short.
fn on(text: &str) -> chrono::NaiveDate {
    text.parse().unwrap()
}

/// Nine animals for each cohort and a sac now and then, with their last events spread over weeks.
fn subject(at: usize) -> Subject {
    let id = at as i64;
    let back = chrono::Days::new(at as u64 % 90);
    match at % 100 {
        0 => Subject::Sac(SacFacts { id, ..subjects::sac() }),
        1..10 => Subject::Cohort(CohortFacts { id, started_on: on("2026-05-20") - back, ..subjects::vials() }),
        _ => {
            let last_moult = Some(on("2026-05-01") - back);
            Subject::Animal(AnimalFacts { id, last_moult, care: subjects::care(), ..subjects::juvenile() })
        }
    }
}

pub fn run() {
    let (rules, table) = (SiteRules::default(), ExposureTable::default());
    let day = "2026-06-01".parse().unwrap();
    let mut before: Option<(f64, f64)> = None;
    for size in [1_000_usize, 10_000, 20_000, 100_000, 1_000_000] {
        let house: Vec<Subject> = (0..size).map(subject).collect();
        let mut duties = 0;
        let took = median(if size > 100_000 { 1 } else { 5 }, || duties = plan(day, &house, &rules, &table).len());
        let at = (size as f64, took.as_secs_f64());
        let grown = before.map_or_else(String::new, |(n, t)| format!(", growth exponent {:.2}", (at.1 / t).ln() / (at.0 / n).ln()));
        line(&format!("planner, {size} subjects"), took, &format!("{duties} duties{grown}"));
        before = Some(at);
    }
    let house: Vec<Subject> = (0..5_000).map(subject).collect();
    let share = LeftIn { animals: 0.05, cohorts: 0.2 };
    let mut duties = 0;
    let took = median(5, || duties = look_ahead(day, 14, &house, &rules, &table, share).len());
    line("look ahead, 5000 subjects x 14 days", took, &format!("{duties} duties"));
}
