//! When several people are in at the same time. Times are minutes of the local day by the clock on the wall.

/// A span of a day, from its first minute up to, and without, its last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Span {
    /// The first minute.
    pub from: u32,
    /// The minute at which it is over.
    pub to: u32,
}

impl Span {
    /// How long it is.
    pub fn minutes(self) -> u32 {
        self.to.saturating_sub(self.from)
    }

    /// What it has in common with another.
    pub fn common(self, other: Self) -> Option<Self> {
        let both = Self { from: self.from.max(other.from), to: self.to.min(other.to) };
        (both.from < both.to).then_some(both)
    }

    /// Whether it holds all of another.
    pub fn holds(self, other: Self) -> bool {
        self.from <= other.from && other.to <= self.to
    }

    /// What is left of it outside of those that are taken, each part at least so many minutes long, the earliest first.
    pub fn without(self, taken: &[Self], least: u32) -> Vec<Self> {
        let mut taken: Vec<Self> = taken.iter().filter_map(|other| self.common(*other)).collect();
        taken.sort();
        let mut left = Vec::new();
        let mut from = self.from;
        for other in taken {
            left.push(Self { from, to: other.from.max(from) });
            from = from.max(other.to);
        }
        left.push(Self { from, to: self.to.max(from) });
        left.retain(|part| part.minutes() >= least.max(1));
        left
    }
}
