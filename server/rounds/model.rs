//! Duties, sign-offs and what they ask of people.

/// What planning changed: numbers of duties.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Planned {
    /// New ones.
    pub opened: usize,
    /// Those that stand open with another day, reason, band or hold than before.
    pub changed: usize,
    /// Those that are no longer due.
    pub dropped: usize,
}

impl Planned {
    /// Whether nothing changed, so that there is nothing to keep a record of.
    #[must_use]
    pub fn is_nothing(self) -> bool {
        self == Self::default()
    }

    pub(super) fn add(&mut self, other: Self) {
        self.opened += other.opened;
        self.changed += other.changed;
        self.dropped += other.dropped;
    }
}

impl std::fmt::Display for Planned {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} duties opened, {} changed, {} no longer due", self.opened, self.changed, self.dropped)
    }
}
