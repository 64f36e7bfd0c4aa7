//! What is believed of the days from one moult to the next, and the forecast that follows from it.
//!
//! The logarithm y of an interval in days is normal with unknown mean and variance, and these have a
//! Normal-Inverse-Gamma belief: mean | variance ~ N(`mean`, variance/`kappa`), variance ~ Inverse-Gamma(`alpha`, `beta`).
//! Murphy 2007, Conjugate Bayesian analysis of the Gaussian distribution; Gelman et al., Bayesian Data Analysis,
//! section 3.3 (section number from memory). The next y then follows Student's t with 2 `alpha` degrees of freedom,
//! location `mean` and scale √(`beta` (`kappa` + 1) / (`alpha` `kappa`)).

use serde::{Deserialize, Serialize};

use crate::reckoning::student::Student;

/// The most days that an interval may have, and that may have passed since a moult.
pub const MOST_DAYS: f64 = 1_000_000.0;
/// As how many intervals a usual range counts (`kappa` of its belief; common practice, no source).
pub const RANGE_WEIGHT: f64 = 4.0;
/// How firmly a usual range tells the spread (`alpha` of its belief; common practice, no source).
pub const RANGE_ALPHA: f64 = 4.0;
/// The least spread of a usual range, in logarithms of days: no house keeps to the day (common practice, no source).
const LEAST_SPREAD: f64 = 0.05;

/// Why a forecast was not made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BeliefError {
    /// A figure of the belief that can't be.
    #[error("{figure} is {given}: give a number {range}")]
    Figure {
        /// Its name.
        figure: &'static str,
        /// What was given.
        given: f64,
        /// What it may be.
        range: &'static str,
    },
    /// An interval that is none.
    #[error("interval {} is {given} days: give a number above 0 and at most 1000000", .index + 1)]
    Interval {
        /// Its place in the list, from 0.
        index: usize,
        /// What was given.
        given: f64,
    },
    /// A usual range that is none.
    #[error("{least} to {most} days is not a range of intervals: give at least 1, at most 1000000, and the least first")]
    UsualRange {
        /// Fewest days.
        least: u32,
        /// Most days.
        most: u32,
    },
    /// A spread with which no window can be told.
    #[error("the spread of the belief is {0} in logarithms of days: choose beta and alpha so that it is from 0.000001 to 100")]
    Spread(f64),
    /// A window without end.
    #[error("the belief is too vague to tell a window of days: give a larger alpha or more intervals")]
    Vague,
}

/// A Normal-Inverse-Gamma belief of ln(days) from one moult to the next.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Belief {
    /// The mean of ln(days).
    pub mean: f64,
    /// As how many intervals the mean counts.
    pub kappa: f64,
    /// Shape of the variance: half its degrees of freedom.
    pub alpha: f64,
    /// Scale of the variance.
    pub beta: f64,
}

/// Running sums of intervals as ln(days) less a centre, so that large numbers do not swallow small differences.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Sums {
    pub(crate) count: f64,
    pub(crate) sum: f64,
    pub(crate) squares: f64,
}

impl Sums {
    /// With another value, or without it when `sign` is -1.
    pub(crate) fn and(self, sign: f64, value: f64) -> Self {
        Self { count: self.count + sign, sum: self.sum + sign * value, squares: self.squares + sign * value * value }
    }

    pub(crate) fn plus(self, other: Self) -> Self {
        Self { count: self.count + other.count, sum: self.sum + other.sum, squares: self.squares + other.squares }
    }

    pub(crate) fn less(self, other: Self) -> Self {
        Self { count: self.count - other.count, sum: self.sum - other.sum, squares: self.squares - other.squares }
    }

    /// The sum of squares about the mean, as `sum`, and its degrees of freedom, as `count`.
    pub(crate) fn within(self) -> Self {
        if self.count < 1.5 {
            return Self::default();
        }
        Self { count: self.count - 1.0, sum: (self.squares - self.sum * self.sum / self.count).max(0.0), squares: 0.0 }
    }

    /// The same values, each `by` more.
    pub(crate) fn moved(self, by: f64) -> Self {
        let squares = self.squares + 2.0 * by * self.sum + self.count * by * by;
        Self { count: self.count, sum: self.sum + by * self.count, squares }
    }
}

/// A window of days since a moult.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Window {
    /// One in ten intervals is shorter, days.
    pub p10_days: f64,
    /// Half of the intervals are shorter, days.
    pub median_days: f64,
    /// Nine in ten intervals are shorter, days.
    pub p90_days: f64,
}

/// When the next moult is to be expected, in days since the last.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Forecast {
    /// One in ten intervals is shorter, days.
    pub p10_days: f64,
    /// Half of the intervals are shorter, days.
    pub median_days: f64,
    /// Nine in ten intervals are shorter, days.
    pub p90_days: f64,
    /// The same, of those intervals that are longer than the days that have passed.
    pub conditional: Window,
    /// The chance of a moult within the next 7 days, as there was none so far (0 to 1).
    pub probability_within_7_days: f64,
}

impl Belief {
    /// The belief that a usual range of days stands for. The range is taken as the middle 80 % of the intervals of one
    /// house whose mean is known (common practice, no source). With the mean known and the variance as believed, the next
    /// ln(days) is Student's t with 2 `alpha` degrees of freedom about it, of scale √(`beta` / `alpha`); half the range's
    /// width in logarithms is the 90 % point of that, which gives `beta`. How firmly it tells the spread is
    /// [`RANGE_ALPHA`], as 8 intervals would.
    ///
    /// A house's own mean is not known, though: it counts as [`RANGE_WEIGHT`] intervals, so that its variance is that of
    /// one interval over `kappa`. The two are independent given the variance and add to 1 + 1/`kappa` of it (Murphy 2007
    /// on the posterior predictive; Gelman et al., Bayesian Data Analysis, chapter 3; both from memory). So the window of
    /// the next interval is √(1 + 1/4) = 1.118 times as wide as the range, and narrows to it as the house learns its
    /// mean. Were the range itself taken as the window, the doubt about the mean would be taken out of the spread, and
    /// the windows of a house that has learnt little would hold less often than they say.
    ///
    /// # Errors
    /// Ranges from 0 days, beyond [`MOST_DAYS`], or that end before they begin.
    pub fn from_usual_range(least_days: u32, most_days: u32) -> Result<Self, BeliefError> {
        if least_days == 0 || least_days > most_days || f64::from(most_days) > MOST_DAYS {
            return Err(BeliefError::UsualRange { least: least_days, most: most_days });
        }
        let (low, high) = (f64::from(least_days).ln(), f64::from(most_days).ln());
        let spread = 0.5 * (high - low) / Student::new(2.0 * RANGE_ALPHA).point_above(0.1);
        let spread = spread.max(LEAST_SPREAD);
        Ok(Self { mean: 0.5 * (low + high), kappa: RANGE_WEIGHT, alpha: RANGE_ALPHA, beta: RANGE_ALPHA * spread * spread })
    }

    /// The belief after these intervals, in days.
    ///
    /// # Errors
    /// Figures of the belief and intervals that are no number or out of range.
    pub fn updated(&self, intervals_days: &[f64]) -> Result<Self, BeliefError> {
        self.checked()?;
        let mut sums = Sums::default();
        for (index, &days) in intervals_days.iter().enumerate() {
            if !(days > 0.0 && days <= MOST_DAYS) {
                return Err(BeliefError::Interval { index, given: days });
            }
            sums = sums.and(1.0, days.ln() - self.mean);
        }
        Ok(self.updated_by(sums))
    }

    /// The belief after intervals whose ln(days) is given less this belief's mean (Murphy 2007, eq. 86 to 89, from memory).
    pub(crate) fn updated_by(&self, sums: Sums) -> Self {
        // Taking one's own intervals out of a sum can leave a count of zero with a rest of rounding.
        if sums.count < 0.5 {
            return *self;
        }
        let (count, average) = (sums.count, sums.sum / sums.count);
        let kappa = self.kappa + count;
        let within = (sums.squares - sums.sum * average).max(0.0);
        Self {
            mean: self.mean + count * average / kappa,
            kappa,
            alpha: self.alpha + 0.5 * count,
            beta: self.beta + 0.5 * within + 0.5 * self.kappa * count * average * average / kappa,
        }
    }

    /// When the next moult is to be expected, so many days after the last and none so far. The conditional window is
    /// that of the intervals longer than `days_since`: far beyond the usual it stays finite and in order.
    ///
    /// # Errors
    /// Figures that are no number or out of range; beliefs so vague that their window has no end.
    pub fn forecast(&self, days_since: f64) -> Result<Forecast, BeliefError> {
        self.checked()?;
        let (student, passed) = (self.student(), self.passed(days_since)?);
        let Window { p10_days, median_days, p90_days } = self.unconditional(&student)?;
        let until = ((days_since + 7.0).ln() - self.mean) / self.scale();
        let (conditional, probability_within_7_days) = match passed {
            None => (Window { p10_days, median_days, p90_days }, student.above(-until)),
            Some(passed) => (self.conditional(&student, passed)?, student.chance_until(passed.z, until)),
        };
        Ok(Forecast { p10_days, median_days, p90_days, conditional, probability_within_7_days })
    }

    /// The conditional window alone, which is all that most pages show.
    pub(crate) fn window(&self, days_since: f64) -> Result<Window, BeliefError> {
        self.checked()?;
        let student = self.student();
        self.passed(days_since)?.map_or_else(|| self.unconditional(&student), |passed| self.conditional(&student, passed))
    }

    /// The days within which the next interval lies with this chance (0 to 1, neither of them).
    pub(crate) fn days_within(&self, chance: f64) -> f64 {
        (self.mean + self.scale() * self.student().point_above(1.0 - chance)).exp()
    }

    /// The scale of the next ln(days).
    pub(crate) fn scale(&self) -> f64 {
        (self.beta * (self.kappa + 1.0) / (self.alpha * self.kappa)).sqrt()
    }

    /// The distribution of the next ln(days), less its mean and in units of its scale.
    pub(crate) fn student(&self) -> Student {
        Student::new(2.0 * self.alpha)
    }

    /// The same with the `beta` that gives the next ln(days) this scale.
    pub(crate) fn with_scale(self, scale: f64) -> Self {
        Self { beta: scale * scale * self.alpha * self.kappa / (self.kappa + 1.0), ..self }
    }

    fn unconditional(&self, student: &Student) -> Result<Window, BeliefError> {
        let spread = student.point_above(0.1) * self.scale();
        let days = |ln_days: f64| finite(ln_days.exp());
        Ok(Window { p10_days: days(self.mean - spread)?, median_days: days(self.mean)?, p90_days: days(self.mean + spread)? })
    }

    fn conditional(&self, student: &Student, passed: Passed) -> Result<Window, BeliefError> {
        let point = |chance: f64| {
            let further = self.scale() * (student.point_beyond(passed.z, chance) - passed.z);
            // Where the next float is further than the spread, the window still lies ahead.
            finite((passed.days * further.exp()).max(passed.days.next_up()))
        };
        Ok(Window { p10_days: point(0.9)?, median_days: point(0.5)?, p90_days: point(0.1)? })
    }

    fn passed(&self, days: f64) -> Result<Option<Passed>, BeliefError> {
        if !(0.0..=MOST_DAYS).contains(&days) {
            return Err(BeliefError::Figure { figure: "days_since_last_moult", given: days, range: "from 0 to 1000000" });
        }
        Ok((days > 0.0).then(|| Passed { days, z: (days.ln() - self.mean) / self.scale() }))
    }

    fn checked(&self) -> Result<(), BeliefError> {
        let figures = [
            ("mean", self.mean, -20.0..=20.0, "from -20 to 20 (the logarithm of a number of days)"),
            ("kappa", self.kappa, 1e-6..=1e9, "from 0.000001 to 1000000000"),
            ("alpha", self.alpha, 1e-2..=1e9, "from 0.01 to 1000000000"),
            ("beta", self.beta, f64::MIN_POSITIVE..=1e12, "above 0 and at most 1000000000000"),
        ];
        for (figure, given, allowed, range) in figures {
            if !allowed.contains(&given) {
                return Err(BeliefError::Figure { figure, given, range });
            }
        }
        let scale = self.scale();
        if (1e-6..=100.0).contains(&scale) { Ok(()) } else { Err(BeliefError::Spread(scale)) }
    }
}

/// Days without a moult, and where they lie in the distribution.
#[derive(Clone, Copy)]
struct Passed {
    days: f64,
    z: f64,
}

fn finite(days: f64) -> Result<f64, BeliefError> {
    if days.is_finite() { Ok(days) } else { Err(BeliefError::Vague) }
}
