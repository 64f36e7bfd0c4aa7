//! Stages of life of a young spider, kept by meaning. Trade labels such as “L1” name different skins in different
//! countries, so they are never stored.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::coded::UnknownCode;

/// The highest instar the book counts.
pub const LAST_INSTAR: u8 = 20;

/// A stage of life: egg, post-embryo (“eggs with legs”), or an instar counted in moults since the post-embryo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Stage {
    /// Not hatched.
    Egg,
    /// Hatched, barely mobile, living on yolk.
    PostEmbryo,
    /// The n-th instar, 1 to 20.
    Instar(u8),
}

impl Stage {
    /// Every stage, in order.
    pub fn all() -> impl Iterator<Item = Self> {
        [Self::Egg, Self::PostEmbryo].into_iter().chain((1..=LAST_INSTAR).map(Self::Instar))
    }

    /// The code kept in the database, forms and JSON: `egg`, `ewl`, `i1` to `i20`.
    pub fn code(self) -> String {
        match self {
            Self::Egg => "egg".to_owned(),
            Self::PostEmbryo => "ewl".to_owned(),
            Self::Instar(number) => format!("i{number}"),
        }
    }

    /// The words that people read: “egg”, “post-embryo”, “first instar”, “4th instar”.
    pub fn label(self) -> String {
        match self {
            Self::Egg => "egg".to_owned(),
            Self::PostEmbryo => "post-embryo".to_owned(),
            Self::Instar(1) => "first instar".to_owned(),
            Self::Instar(2) => "second instar".to_owned(),
            Self::Instar(3) => "third instar".to_owned(),
            Self::Instar(number) => format!("{number}th instar"),
        }
    }

    /// The stage after the next moult; nothing after the last instar that is counted.
    pub fn next(self) -> Option<Self> {
        match self {
            Self::Egg => Some(Self::PostEmbryo),
            Self::PostEmbryo => Some(Self::Instar(1)),
            Self::Instar(number) if number < LAST_INSTAR => Some(Self::Instar(number + 1)),
            Self::Instar(_) => None,
        }
    }

    /// Whether the stage takes prey: from the second instar on (common practice, no source).
    pub fn feeds(self) -> bool {
        self >= Self::Instar(2)
    }

    /// Whether the stage is one that the book counts (instars 1 to 20).
    pub fn is_counted(self) -> bool {
        !matches!(self, Self::Instar(number) if number == 0 || number > LAST_INSTAR)
    }
}

impl fmt::Display for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.label())
    }
}

impl FromStr for Stage {
    type Err = UnknownCode;
    fn from_str(given: &str) -> Result<Self, Self::Err> {
        Self::all().find(|stage| stage.code() == given).ok_or_else(|| UnknownCode { what: "stage", given: given.to_owned() })
    }
}

impl TryFrom<String> for Stage {
    type Error = UnknownCode;
    fn try_from(given: String) -> Result<Self, Self::Error> {
        given.parse()
    }
}

impl From<Stage> for String {
    fn from(stage: Stage) -> Self {
        stage.code()
    }
}
