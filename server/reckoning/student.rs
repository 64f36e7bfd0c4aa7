//! Student's t distribution, with tails and points that hold far from its middle.
//!
//! Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 2, chapter 28: with ν degrees of freedom,
//! P(T > z) = I(ν/(ν + z²); ν/2, 1/2) / 2 for z ≥ 0, where I is the regularised incomplete beta function.

use statrs::function::beta::checked_beta_reg;
use statrs::function::gamma::ln_gamma;

/// Below this chance a tail is carried on by its slope, as a float cannot tell it any more.
const LEAST_CHANCE: f64 = 1e-280;
/// More steps than any point takes: doubling and halving over all floats takes two thousand, Newton's method a handful.
const MOST_STEPS: u32 = 2200;

/// Student's t distribution with location 0 and scale 1.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Student {
    freedom: f64,
    /// The logarithm of its density at 0.
    ln_peak: f64,
}

impl Student {
    /// The distribution with so many degrees of freedom, a finite number above 0.
    pub(crate) fn new(freedom: f64) -> Self {
        let half = freedom / 2.0;
        Self { freedom, ln_peak: ln_gamma(half + 0.5) - ln_gamma(half) - 0.5 * (freedom * std::f64::consts::PI).ln() }
    }

    /// P(T > z).
    pub(crate) fn above(&self, z: f64) -> f64 {
        if z < 0.0 {
            return 1.0 - self.above(-z);
        }
        let (half, squared) = (self.freedom / 2.0, z * z);
        // Each form keeps its figures where the other loses them. Neither can be refused: all arguments are in range.
        if squared <= 1.0 {
            return 0.5 - 0.5 * checked_beta_reg(0.5, half, squared / (self.freedom + squared)).unwrap_or(0.0);
        }
        let share = if squared.is_finite() { self.freedom / (self.freedom + squared) } else { 0.0 };
        0.5 * checked_beta_reg(half, 0.5, share).unwrap_or(0.0)
    }

    /// The z that T exceeds with a chance between 0 and 1 (neither of them).
    pub(crate) fn point_above(&self, chance: f64) -> f64 {
        if chance == 0.5 {
            return 0.0;
        }
        if chance > 0.5 { -self.upper_point(1.0 - chance) } else { self.upper_point(chance) }
    }

    /// The z that T exceeds with this chance, given that it exceeds `passed`.
    pub(crate) fn point_beyond(&self, passed: f64, chance: f64) -> f64 {
        let so_far = self.above(passed);
        if so_far < LEAST_CHANCE { passed - chance.ln() / self.hazard(passed) } else { self.point_above(so_far * chance).max(passed) }
    }

    /// P(T ≤ to | T > passed), for `to` not below `passed`.
    pub(crate) fn chance_until(&self, passed: f64, to: f64) -> f64 {
        let so_far = self.above(passed);
        let chance = if so_far < LEAST_CHANCE {
            -(-self.hazard(passed) * (to - passed)).exp_m1()
        } else if to < 0.0 {
            // Both lower tails are small and exact, where one less both upper tails would lose figures.
            (self.above(-to) - self.above(-passed)) / so_far
        } else {
            1.0 - self.above(to) / so_far
        };
        chance.clamp(0.0, 1.0)
    }

    /// Density over tail, far out: there the tail falls nearly as the density does.
    fn hazard(&self, z: f64) -> f64 {
        (self.freedom + 1.0) * z / (self.freedom + z * z)
    }

    fn density(&self, z: f64) -> f64 {
        (self.ln_peak - 0.5 * (self.freedom + 1.0) * (z * z / self.freedom).ln_1p()).exp()
    }

    /// Newton's method on the logarithm of the tail, kept within a bracket: where a step leaves it, the bracket is halved,
    /// or doubled while it has no upper end.
    fn upper_point(&self, chance: f64) -> f64 {
        let (mut low, mut high) = (0.0, f64::INFINITY);
        let mut z = self.near(chance);
        for _ in 0..MOST_STEPS {
            let tail = self.above(z);
            if tail > chance {
                low = z;
            } else {
                high = z;
            }
            let newton = z + tail / self.density(z) * (tail / chance).ln();
            let inside = newton > low && newton < high;
            let next = match (inside, high.is_finite()) {
                (true, _) => newton,
                (false, true) => 0.5 * (low + high),
                (false, false) => 2.0 * z + 1.0,
            };
            let moved = (next - z).abs();
            z = next;
            // Newton's error is squared at each step; halving only halves it.
            if moved <= 1e-13_f64.max(z * if inside { 1e-9 } else { 1e-15 }) {
                break;
            }
        }
        z
    }

    /// A point to start from: the normal one (Abramowitz & Stegun 1964, 26.2.23), widened by the first term of the
    /// expansion in 1/ν (26.7.5).
    fn near(&self, chance: f64) -> f64 {
        let t = (-2.0 * chance.ln()).sqrt();
        let above = 2.515_517 + t * (0.802_853 + t * 0.010_328);
        let below = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
        let normal = (t - above / below).max(0.0);
        normal + normal * (normal * normal + 1.0) / (4.0 * self.freedom.max(1.0))
    }
}
