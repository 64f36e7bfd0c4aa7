//! The share alive day by day: the product-limit estimate, its limits, median and mean.

use serde::Serialize;

use super::timeline::Timeline;
use super::{Followed, SurvivalError};

/// The two-sided 95 % point of the normal distribution.
const Z_95: f64 = 1.959_963_984_540_054;
/// A product of shares that should be one half exactly may miss it by its rounding.
const ROUNDING: f64 = 1e-12;

/// A survival curve. The lists run side by side, one place for each day with a loss, earliest first; between them the
/// curve is level. Without a loss they are empty, and the curve is at 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Survival {
    /// Days since day 0 on which any were lost.
    pub times: Vec<u32>,
    /// How many were at risk on that day.
    pub at_risk: Vec<u32>,
    /// How many of them were lost.
    pub lost: Vec<u32>,
    /// The share alive at the end of that day, 0 to 1.
    pub survival: Vec<f64>,
    /// Its standard error (Greenwood); nothing where the share is 0.
    pub std_error: Vec<Option<f64>>,
    /// Its lower 95 % limit; nothing where the share is 0.
    pub lower_95: Vec<Option<f64>>,
    /// Its upper 95 % limit; nothing where the share is 0.
    pub upper_95: Vec<Option<f64>>,
    /// The first day with half or fewer alive; nothing while more than half are.
    pub median: Option<u32>,
    /// The mean days lived from day 0 to `restricted_mean_tau`: the area under the curve.
    pub restricted_mean: f64,
    /// The day to which the mean runs.
    pub restricted_mean_tau: u32,
    /// How many were followed.
    pub entered: u32,
    /// How many of them were lost.
    pub total_lost: u32,
    /// How many of them left, or are followed still.
    pub total_left: u32,
    /// The last day that anybody was watched. The curve after it is only carried on.
    pub last_day: u32,
    /// What was found, in one sentence.
    pub summary: String,
    /// What to bear in mind when reading it; usually empty.
    pub cautions: Vec<String>,
    #[serde(skip)]
    timeline: Timeline,
}

/// The Kaplan-Meier (product-limit) estimate: S(t) is the product of 1 − d/n over the days up to t with d lost of n at
/// risk. Losses come before leavings on the same day. Limits are taken on the scale of log(−log S), so that they stay
/// within 0 and 1. The mean runs to day `tau`; without it to the last day that anybody was watched.
///
/// With delayed entry the curve holds for animals that were alive on the first day of entry.
///
/// Sources: Kaplan & Meier, J. Am. Stat. Assoc. 53: 457-481, 1958; standard error: Greenwood 1926; limits: Kalbfleisch
/// & Prentice 1980; delayed entry and restricted mean: Klein & Moeschberger, Survival Analysis (all from memory).
///
/// # Errors
/// Nobody followed, counts of 0, more animals than can be counted, entries that do not match the ends, a `tau` of 0.
pub fn kaplan_meier(followed: &Followed, tau: Option<u32>) -> Result<Survival, SurvivalError> {
    if tau == Some(0) {
        return Err(SurvivalError::NoTau);
    }
    let timeline = Timeline::of(followed)?;
    let days = timeline.days();
    let last_day = days.iter().filter(|day| day.lost + day.left > 0).map(|day| day.day).max().unwrap_or(0);
    let mut curve = Survival::at_one(tau.unwrap_or(last_day), last_day);
    let (mut share, mut greenwood) = (1.0, 0.0);
    for day in days.iter().filter(|day| day.lost > 0) {
        let (at_risk, lost) = (f64::from(day.at_risk), f64::from(day.lost));
        share *= (at_risk - lost) / at_risk;
        greenwood += if day.lost < day.at_risk { lost / (at_risk * (at_risk - lost)) } else { 0.0 };
        curve.step(day.day, share, greenwood);
        curve.at_risk.push(day.at_risk);
        curve.lost.push(day.lost);
    }
    curve.total_lost = curve.lost.iter().sum();
    curve.total_left = days.iter().map(|day| day.left).sum();
    curve.entered = curve.total_lost + curve.total_left;
    curve.median = curve.first_at_most(0.5);
    curve.restricted_mean = curve.area(curve.restricted_mean_tau);
    curve.timeline = timeline;
    curve.summary = curve.said();
    curve.cautions = curve.doubts();
    Ok(curve)
}

impl Survival {
    /// A curve without a loss.
    fn at_one(tau: u32, last_day: u32) -> Self {
        Self {
            times: Vec::new(),
            at_risk: Vec::new(),
            lost: Vec::new(),
            survival: Vec::new(),
            std_error: Vec::new(),
            lower_95: Vec::new(),
            upper_95: Vec::new(),
            median: None,
            restricted_mean: 0.0,
            restricted_mean_tau: tau,
            entered: 0,
            total_lost: 0,
            total_left: 0,
            last_day,
            summary: String::new(),
            cautions: Vec::new(),
            timeline: Timeline::default(),
        }
    }

    /// Adds a day with its share and limits.
    fn step(&mut self, day: u32, share: f64, greenwood: f64) {
        self.times.push(day);
        self.survival.push(share);
        let inside = share > 0.0 && share < 1.0;
        self.std_error.push((share > 0.0).then(|| share * greenwood.sqrt()));
        let width = Z_95 * greenwood.sqrt() / share.ln().abs();
        self.lower_95.push(inside.then(|| share.powf(width.exp())));
        self.upper_95.push(inside.then(|| share.powf((-width).exp())));
    }

    /// Each day with a loss, and the share alive from then on.
    pub fn steps(&self) -> impl Iterator<Item = (u32, f64)> {
        self.times.iter().copied().zip(self.survival.iter().copied())
    }

    /// The share alive at the end of a day, 0 to 1; after the last day watched it is carried on.
    pub fn at(&self, day: u32) -> f64 {
        self.step_on(day).and_then(|step| self.survival.get(step)).copied().unwrap_or(1.0)
    }

    /// The 95 % limits (lower, upper) of the share alive at the end of a day; nothing while it is 1 or once it is 0.
    pub fn limits_at(&self, day: u32) -> Option<(f64, f64)> {
        let step = self.step_on(day)?;
        Some(((*self.lower_95.get(step)?)?, (*self.upper_95.get(step)?)?))
    }

    /// How many were at risk on a day: those in so far, that day's included, less those gone before it.
    pub fn at_risk_on(&self, day: u32) -> u32 {
        self.timeline.at_risk_on(day)
    }

    fn step_on(&self, day: u32) -> Option<usize> {
        self.times.partition_point(|time| *time <= day).checked_sub(1)
    }

    /// The first day at whose end no more than a share is alive.
    fn first_at_most(&self, most: f64) -> Option<u32> {
        self.steps().find(|(_, share)| *share <= most + ROUNDING).map(|(day, _)| day)
    }

    /// The area under the curve from day 0 to a day, in days.
    fn area(&self, tau: u32) -> f64 {
        let (mut area, mut from, mut level) = (0.0, 0_u32, 1.0);
        for (day, share) in self.steps().take_while(|(day, _)| *day < tau) {
            area += level * f64::from(day - from);
            (from, level) = (day, share);
        }
        area + level * f64::from(tau - from)
    }

    fn said(&self) -> String {
        let Self { entered, total_lost, total_left, last_day, .. } = self;
        let share = 100.0 * self.at(*last_day);
        let limits = self
            .limits_at(*last_day)
            .map_or_else(String::new, |(lower, upper)| format!(" (95 % limits {:.1} to {:.1} %)", 100.0 * lower, 100.0 * upper));
        let half = self.median.map_or_else(|| "more than half alive throughout".to_owned(), |day| format!("half lost by day {day}"));
        format!("{entered} followed, {total_lost} lost, {total_left} left; {share:.1} % alive at day {last_day}{limits}; {half}")
    }

    fn doubts(&self) -> Vec<String> {
        let mut doubts = Vec::new();
        let first = self.timeline.days().first().map_or(0, |day| day.day);
        if first > 0 {
            doubts.push(format!("nobody was followed before day {first}; losses before it are not in the curve"));
        }
        let gone = self.steps().find(|(_, share)| *share <= 0.0).map(|(day, _)| day);
        if let Some(day) = gone.filter(|day| self.timeline.days().last().is_some_and(|last| last.day > *day)) {
            doubts.push(format!("on day {day} the share fell to 0, though more came in later; choose another day 0"));
        }
        if self.restricted_mean_tau > self.last_day && self.at(self.last_day) > 0.0 {
            let (last, tau) = (self.last_day, self.restricted_mean_tau);
            doubts.push(format!("nobody was watched after day {last}; the mean to day {tau} takes it that none were lost since"));
        }
        doubts
    }
}
