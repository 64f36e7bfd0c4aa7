//! The ledger's codes: buckets and kinds of line.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::reckoning::coded::UnknownCode;
use crate::reckoning::stage::Stage;

/// Where a quantity stands: the source, a stage, or one of the sinks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Bucket {
    /// All that ever came in, from a sac or a supplier.
    In,
    /// Alive at a stage.
    Stage(Stage),
    /// Dead or escaped.
    Lost,
    /// Sold.
    Sold,
    /// Tagged: now animals of their own.
    Tagged,
    /// Moved to another cohort.
    Moved,
    /// Counted wrong.
    Variance,
}

/// The buckets that are no stage.
const OTHERS: [Bucket; 6] = [Bucket::In, Bucket::Lost, Bucket::Sold, Bucket::Tagged, Bucket::Moved, Bucket::Variance];

impl Bucket {
    /// The code kept in the database, forms and JSON.
    pub fn code(self) -> String {
        match self {
            Self::In => "in".to_owned(),
            Self::Stage(stage) => stage.code(),
            Self::Lost => "lost".to_owned(),
            Self::Sold => "sold".to_owned(),
            Self::Tagged => "tagged".to_owned(),
            Self::Moved => "moved".to_owned(),
            Self::Variance => "variance".to_owned(),
        }
    }

    /// The words that people read.
    pub fn label(self) -> String {
        match self {
            Self::In => "came in".to_owned(),
            Self::Stage(stage) => stage.label(),
            Self::Variance => "counted wrong".to_owned(),
            Self::Lost | Self::Sold | Self::Tagged | Self::Moved => self.code(),
        }
    }
}

impl fmt::Display for Bucket {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.label())
    }
}

impl FromStr for Bucket {
    type Err = UnknownCode;
    fn from_str(given: &str) -> Result<Self, Self::Err> {
        OTHERS
            .into_iter()
            .chain(Stage::all().map(Bucket::Stage))
            .find(|bucket| bucket.code() == given)
            .ok_or_else(|| UnknownCode { what: "bucket", given: given.to_owned() })
    }
}

impl TryFrom<String> for Bucket {
    type Error = UnknownCode;
    fn try_from(given: String) -> Result<Self, Self::Error> {
        given.parse()
    }
}

impl From<Bucket> for String {
    fn from(bucket: Bucket) -> Self {
        bucket.code()
    }
}

coded_enum! {
    /// What a line of the ledger records.
    LineKind, "kind of line" {
        Received = "received", "came in";
        Moulted = "moulted", "moulted on";
        Lost = "lost", "lost";
        Tagged = "tagged", "tagged";
        Sold = "sold", "sold";
        Moved = "moved", "moved to another cohort";
        Recounted = "recounted", "recounted";
        Reversal = "reversal", "taken back";
    }
}

impl LineKind {
    /// Whether this kind of line may make this movement; a reversal is held against its own line instead.
    pub(super) fn allows(self, from: Bucket, to: Bucket) -> bool {
        match (self, from, to) {
            (Self::Received, Bucket::In, Bucket::Stage(_))
            | (Self::Lost, Bucket::Stage(_), Bucket::Lost)
            | (Self::Sold, Bucket::Stage(_), Bucket::Sold)
            | (Self::Moved, Bucket::Stage(_), Bucket::Moved)
            | (Self::Recounted, Bucket::Stage(_), Bucket::Variance)
            | (Self::Recounted, Bucket::Variance | Bucket::In, Bucket::Stage(_)) => true,
            (Self::Moulted, Bucket::Stage(before), Bucket::Stage(after)) => after > before,
            (Self::Tagged, Bucket::Stage(stage), Bucket::Tagged) => stage >= Stage::Instar(1),
            _ => false,
        }
    }
}
