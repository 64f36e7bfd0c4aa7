//! Exact shares of somebody's minutes.

use std::cmp::Ordering;

/// So many minutes out of so many. Compared as a fraction, without rounding.
#[derive(Debug, Clone, Copy)]
pub(super) struct Share {
    load: u64,
    /// At least 1.
    of: u64,
}

impl Share {
    /// Nobody has anything to do.
    pub(super) const NONE: Self = Self { load: 0, of: 1 };

    /// A load out of somebody's minutes; somebody without minutes carries nothing.
    pub(super) fn new(load: u64, of: u64) -> Self {
        if of == 0 { Self::NONE } else { Self { load, of } }
    }

    /// Half way between two shares, rounded.
    pub(super) fn between(self, other: Self) -> Self {
        const PARTS: u64 = 1 << 40;
        let parts = |share: Self| u128::from(share.load) * u128::from(PARTS) / u128::from(share.of);
        Self { load: u64::try_from(parts(self).midpoint(parts(other))).unwrap_or(u64::MAX), of: PARTS }
    }

    /// The most minutes that are within this share of somebody's minutes.
    pub(super) fn of_minutes(self, minutes: u64) -> u64 {
        u64::try_from(u128::from(self.load) * u128::from(minutes) / u128::from(self.of)).unwrap_or(u64::MAX)
    }

    /// The most minutes that are below this share of somebody's minutes; `None` if even none are not.
    pub(super) fn below(self, minutes: u64) -> Option<u64> {
        let product = u128::from(self.load) * u128::from(minutes);
        product.div_ceil(u128::from(self.of)).checked_sub(1).map(|most| u64::try_from(most).unwrap_or(u64::MAX))
    }

    /// As a number, for people to read.
    pub(super) fn value(self) -> f64 {
        self.load as f64 / self.of as f64
    }
}

impl Ord for Share {
    fn cmp(&self, other: &Self) -> Ordering {
        (u128::from(self.load) * u128::from(other.of)).cmp(&(u128::from(other.load) * u128::from(self.of)))
    }
}

impl PartialOrd for Share {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Share {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Share {}
