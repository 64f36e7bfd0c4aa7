//! How a sign-off reached the book, and what became of those that the book could not take.

use chrono::{DateTime, Utc};

use crate::house::ids::{AnimalId, DeviceId, DutyId, MemberId, RefusalId};

/// How a sign-off reached the book.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arrival {
    /// At once, from the page of somebody who is signed in.
    Live,
    /// Later: it waited in the browser for the wireless.
    Queued {
        /// When it was made.
        made_at: DateTime<Utc>,
    },
    /// Later: it was marked on a printed round and typed in.
    Paper {
        /// About when it was done.
        made_at: DateTime<Utc>,
    },
    /// At once, at a room's tablet, where the person gave their PIN.
    Tablet(DeviceId),
}

impl Arrival {
    /// Its code in the book.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Live => "live",
            Self::Queued { .. } => "queued",
            Self::Paper { .. } => "paper",
            Self::Tablet(_) => "tablet",
        }
    }

    /// When it was made, if that was before it arrived.
    #[must_use]
    pub fn made_at(self) -> Option<DateTime<Utc>> {
        if let Self::Queued { made_at } | Self::Paper { made_at } = self { Some(made_at) } else { None }
    }

    /// The tablet at which it was signed.
    #[must_use]
    pub fn device(self) -> Option<DeviceId> {
        if let Self::Tablet(device) = self { Some(device) } else { None }
    }
}

coded_enum! {
    /// How somebody settled a sign-off that could not be written.
    Settled, "way to settle it" {
        Noted = "noted", "a note was added";
        Nothing = "nothing", "nothing to add";
    }
}

crate::text_columns! { Settled }

/// A sign-off that could not be written when it arrived, to be kept.
#[derive(Debug, Clone)]
pub struct NewRefusal {
    /// The one-time key of its form.
    pub once_key: String,
    /// The duty, where there is such a one.
    pub duty: Option<DutyId>,
    /// What it was about, in words: `Feed T-5`.
    pub label: String,
    /// What was entered, in words.
    pub entered: String,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// Why it could not be written.
    pub why: String,
}

/// The same as it stands in the book.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Refusal {
    /// Its id.
    pub id: RefusalId,
    /// Who made it.
    pub member_id: MemberId,
    /// Their name.
    pub member_name: String,
    /// What it was about.
    pub label: String,
    /// What was entered.
    pub entered: String,
    /// The animal that the duty was about.
    pub animal_id: Option<AnimalId>,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// When it arrived.
    pub arrived_at: DateTime<Utc>,
    /// Why it could not be written.
    pub why: String,
    /// Since when it is settled.
    pub settled_at: Option<DateTime<Utc>>,
}
