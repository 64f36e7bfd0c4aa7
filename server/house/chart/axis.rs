//! Axes: from where to where, and at which values a line with words stands.

use chrono::{Datelike as _, Days, Months, NaiveDate};

/// A value of an axis that has a line and words.
#[derive(Debug, Clone, PartialEq)]
pub struct Tick {
    /// The value.
    pub at: f64,
    /// What stands beside it.
    pub label: String,
}

/// An axis.
#[derive(Debug, Clone)]
pub struct Axis {
    /// What is measured, with its unit.
    pub label: String,
    /// The value at its lower end.
    pub from: f64,
    /// The value at its upper end.
    pub to: f64,
    /// The values that have a line, from the lower end up.
    pub ticks: Vec<Tick>,
}

impl Axis {
    /// Numbers from at most `from` to at least `to`, widened to round values.
    #[must_use]
    pub fn numbers(label: impl Into<String>, from: f64, to: f64) -> Self {
        let to = if to > from { to } else { from + 1.0 };
        let step = round_step((to - from) / 5.0);
        let (first, last) = ((from / step + 1e-9).floor(), (to / step - 1e-9).ceil());
        let places = usize::from(step < 1.0) + usize::from(step < 0.1);
        // Five steps or so: the count fits.
        let ticks = (0..=(last - first) as u32)
            .map(|index| {
                let at = (first + f64::from(index)) * step;
                Tick { at, label: format!("{:.places$}", at + 0.0) }
            })
            .collect();
        Self { label: label.into(), from: first * step, to: last * step, ticks }
    }

    /// Shares from 0 to 100 %.
    #[must_use]
    pub fn shares(label: impl Into<String>) -> Self {
        let ticks = (0..=4).map(|quarter| Tick { at: f64::from(quarter) / 4.0, label: format!("{} %", quarter * 25) }).collect();
        Self { label: label.into(), from: 0.0, to: 1.0, ticks }
    }

    /// Days from one date to another; a value is a date as [`day_value`] gives it.
    #[must_use]
    pub fn days(label: impl Into<String>, from: NaiveDate, to: NaiveDate) -> Self {
        let to = if to > from { to } else { from.checked_add_days(Days::new(1)).unwrap_or(from) };
        Self { label: label.into(), from: day_value(from), to: day_value(to), ticks: date_ticks(from, to) }
    }

    /// How far along the axis a value lies: 0 at its lower end, 1 at its upper.
    #[must_use]
    pub fn share(&self, value: f64) -> f64 {
        let length = self.to - self.from;
        if length > 0.0 { ((value - self.from) / length).clamp(-1.0, 2.0) } else { 0.0 }
    }
}

/// A date as a value of an axis of days.
#[must_use]
pub fn day_value(day: NaiveDate) -> f64 {
    f64::from(day.num_days_from_ce())
}

/// The step of 1, 2 or 5 times a power of ten that is at least so long.
fn round_step(least: f64) -> f64 {
    let power = 10_f64.powf(least.max(1e-6).log10().floor());
    [1.0, 2.0, 5.0].into_iter().map(|times| times * power).find(|step| *step >= least * (1.0 - 1e-9)).unwrap_or(10.0 * power)
}

/// Firsts of months where the span is long, else every so many days: about four.
fn date_ticks(from: NaiveDate, to: NaiveDate) -> Vec<Tick> {
    let length = (to - from).num_days();
    let tick = |day: NaiveDate, form: &str| Tick { at: day_value(day), label: day.format(form).to_string() };
    if length < 120 {
        let every = (length / 4).max(1);
        return (0..=length / every)
            .filter_map(|step| from.checked_add_days(Days::new((step * every).unsigned_abs())))
            .map(|day| tick(day, "%-d %b"))
            .collect();
    }
    let every = u32::try_from(length / 30 / 4).unwrap_or(1).max(1);
    let first = from.with_day(1).and_then(|first| first.checked_add_months(Months::new(1))).unwrap_or(from);
    let mut ticks = Vec::new();
    let mut day = Some(first);
    while let Some(month) = day.filter(|month| *month <= to) {
        ticks.push(tick(month, "%b %y"));
        day = month.checked_add_months(Months::new(every));
    }
    ticks
}
