//! Is a cohort dying faster than it should? Its losses of the last 7 and 28 days, and a cumulative sum, against the usual
//! losses of its species and stage.
//!
//! The limits are set so that a house of 20 cohorts that are all in order should see one or two false alarms a year, and not
//! more than three in any kind of house that was tried: each an alarm that rises where there was none, when every cohort is judged every day. In simulated houses (two hundred
//! of each kind, in two lots, the second drawn after the limits were set; 20 cohorts of 40 to 300 of six species, thinned
//! by deaths and sales) there were in a year
//!
//! | house | first year | second and third |
//! |---|---|---|
//! | cohorts of a species differ by a tenth, looked over daily | 0.8 to 1.1 | 0.7 to 1.0 |
//! | the same, looked over once a week | 0.5 to 0.6 | 0.2 to 0.5 |
//! | cohorts of a species differ by a fifth | 1.2 to 1.4 | 1.1 to 1.5 |
//! | frail species: 70 to 90 % live through their first 90 days, not 80 to 95 % | 2.2 to 2.5 | 1.0 to 1.5 |
//!
//! so a frail species wants its own usual rate in its first year. Half of the cohorts whose hazard rose to three, five and
//! ten times were alarmed within 28, 8 and 3 days (looked over once a week: 35, 14 and 6). Of those whose hazard tripled one
//! in four never was, in later years one in five to seven: few are usual there. A hazard that doubles is found in less than half.
//! In order means that deaths fall one by one, each at the rate of its stage. The tests run smaller houses and print these.

mod baseline;
pub mod cusum;
mod days;
mod drift;
mod run_length;
mod what_differs;
mod window;

use std::collections::BTreeSet;

use chrono::NaiveDate;
use serde::Serialize;

use super::stage::Stage;
pub use baseline::{Baseline, MOST_WEIGHT, OWN_DAYS_LEFT_OUT, PRIOR_LOSSES, Usual, seen_before, usual_rate};
use days::after;
pub use days::{Among, Day, DaysError, Series, Tally, days_of_ledger};
pub use drift::{DAYS_TO_FALSE_SIGNAL, Drift, LEAST_THRESHOLD, RISE};
pub use what_differs::{CauseCount, ClimateDays, Elsewhere, Evidence, FeedingGap, Group, NAMED_BY_CHANCE, what_differs};
pub use window::Window;
use window::chance_words;

/// What a page may claim: so many false alarms a year at the most, in a house of [`COHORTS_OF_A_HOUSE`] of any kind tried.
pub const FALSE_ALARMS_A_YEAR: u32 = 3;
/// The size of the house that the limits are set for.
pub const COHORTS_OF_A_HOUSE: u32 = 20;
/// Fewer losses than this in a window never alarm.
pub const LEAST_LOSSES: u64 = 3;
/// A window of 7 days alarms below this chance.
pub const WEEK_CHANCE: f64 = 0.0004;
/// A window of 28 days alarms below this chance.
pub const MONTH_CHANCE: f64 = 0.0008;
/// A window of either length is watched below this chance.
pub const WATCH_CHANCE: f64 = 0.01;

coded_enum! {
    /// How a cohort's losses stand against the usual.
    Level, "level of alarm" {
        Quiet = "quiet", "as usual";
        Watch = "watch", "watch";
        Alarm = "alarm", "alarm";
    }
}

/// A cohort's animals of one stage, with what is usual for them.
#[derive(Debug, Clone, PartialEq)]
pub struct Stratum {
    /// The stage.
    pub stage: Stage,
    /// Its days.
    pub days: Series,
    /// What is usual for the species at the stage.
    pub baseline: Baseline,
}

/// A cohort that is watched.
#[derive(Debug, Clone, Copy)]
pub struct Watched<'a> {
    /// Its animals by stage. They are judged together: what harms a cohort seldom keeps to a stage.
    pub strata: &'a [Stratum],
    /// The days on which losses could be found: counts, feedings, cleaning. Days with losses are such days anyway. An
    /// empty list: every day.
    pub looks: &'a [NaiveDate],
    /// The last day on which somebody looked into its losses; what was lost up to then does not count again.
    pub looked_into: Option<NaiveDate>,
}

/// What is to be said of a cohort's losses.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verdict {
    /// How they stand.
    pub level: Level,
    /// The sentence that says most.
    pub sentence: String,
    /// Every figure behind it, a line each.
    pub reasons: Vec<String>,
    /// The last 7 days.
    pub week: Window,
    /// The last 28 days.
    pub month: Window,
    /// The cumulative sum.
    pub drift: Drift,
}

impl Watched<'_> {
    /// The first day that counts: after today when none does.
    fn begin(&self, today: NaiveDate) -> NaiveDate {
        let first = self.strata.iter().filter_map(|stratum| stratum.days.first()).min();
        let since = self.looked_into.map(after);
        first.unwrap_or(NaiveDate::MAX).max(since.unwrap_or(NaiveDate::MIN)).min(after(today))
    }

    /// The looks in order, those that found a loss among them; empty when every day is one.
    fn all_looks(&self) -> Vec<NaiveDate> {
        if self.looks.is_empty() {
            return Vec::new();
        }
        let found = self.strata.iter().flat_map(|stratum| stratum.days.days()).filter(|day| day.lost > 0).map(|day| day.day);
        let looks: BTreeSet<NaiveDate> = found.chain(self.looks.iter().copied()).collect();
        looks.into_iter().collect()
    }
}

/// Judges a cohort's losses up to a day. Days after it are left out.
///
/// Alarm: a chance below [`WEEK_CHANCE`] in 7 days or below [`MONTH_CHANCE`] in 28, with at least [`LEAST_LOSSES`] in the
/// window, or a cumulative sum above its threshold with as many in 28 days. Watch: two losses with a chance below
/// [`WATCH_CHANCE`], or a sum above half its threshold.
pub fn judge(watched: &Watched<'_>, today: NaiveDate) -> Verdict {
    let looks = watched.all_looks();
    let week = Window::of(watched, &looks, 7, today);
    let month = Window::of(watched, &looks, 28, today);
    let drift = Drift::of(watched, &looks, today);
    let level = level(&week, &month, &drift);
    let sentence = sentence(level, &week, &month, &drift, today);
    let reasons = reasons(watched, &week, &month, &drift, today);
    Verdict { level, sentence, reasons, week, month, drift }
}

fn level(week: &Window, month: &Window, drift: &Drift) -> Level {
    let beyond = |window: &Window, chance: f64| window.lost >= LEAST_LOSSES && window.chance < chance;
    let odd = |window: &Window| window.lost >= 2 && window.chance < WATCH_CHANCE;
    if beyond(week, WEEK_CHANCE) || beyond(month, MONTH_CHANCE) || (drift.signals() && month.lost >= LEAST_LOSSES) {
        Level::Alarm
    } else if odd(week) || odd(month) || (drift.sum > drift.threshold / 2.0 && month.lost >= 2) {
        Level::Watch
    } else {
        Level::Quiet
    }
}

/// The window with the smaller chance; the sum when it alone tells that something is odd. A window is fairer to quote, as
/// the days of the sum begin where its losses do.
fn sentence(level: Level, week: &Window, month: &Window, drift: &Drift, today: NaiveDate) -> String {
    let telling = if week.chance < month.chance { week } else { month };
    if level > Level::Quiet && telling.chance >= WATCH_CHANCE { drift.words() } else { telling.words(today) }
}

fn reasons(watched: &Watched<'_>, week: &Window, month: &Window, drift: &Drift, today: NaiveDate) -> Vec<String> {
    let mut lines = Vec::new();
    for window in [week, month] {
        let (poisson, binomial) = (chance_words(window.poisson), chance_words(window.binomial));
        let tails = format!("; were the usual rate certain, {poisson} (Poisson) or {binomial} (binomial)");
        lines.push(window.words(today) + if window.of > 0 { &tails } else { "" });
        if window.missing > 0 {
            lines.push(format!("{} missing in those days, which are not counted as deaths", window.missing));
        }
    }
    let years = drift.years_to_false_signal();
    let seldom = years.map(|years| format!(", which a cohort of this size in order passes once in {years:.0} years or more seldom"));
    lines.push(format!("{}; sum {:.1} of {:.1}{}", drift.words(), drift.sum, drift.threshold, seldom.unwrap_or_default()));
    lines.extend(watched.strata.iter().map(|stratum| format!("{}, {}", stratum.stage, stratum.baseline.words())));
    lines
}
