//! The one clock. "Now" and "today" come from here, so that tests and the demo can set them.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use chrono::{DateTime, NaiveDate, SubsecRound, Utc};
use chrono_tz::Tz;

/// Where the time comes from. Instants are cut to whole seconds, so that what is stored and what is compared agree.
#[derive(Debug, Clone)]
pub enum Clock {
    /// The machine's clock.
    System,
    /// A clock that stands until it is set: seconds since 1970 in UTC.
    Set(Arc<AtomicI64>),
}

impl Clock {
    /// A clock that stands at the given instant until it is set again.
    #[must_use]
    pub fn standing_at(instant: DateTime<Utc>) -> Self {
        Self::Set(Arc::new(AtomicI64::new(instant.timestamp())))
    }

    /// The current instant, in whole seconds.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        match self {
            Self::System => system_now().trunc_subsecs(0),
            Self::Set(seconds) => DateTime::from_timestamp(seconds.load(Ordering::SeqCst), 0).unwrap_or(DateTime::UNIX_EPOCH),
        }
    }

    /// Sets a standing clock; the machine's clock is left alone.
    pub fn set(&self, instant: DateTime<Utc>) {
        if let Self::Set(seconds) = self {
            seconds.store(instant.timestamp(), Ordering::SeqCst);
        }
    }
}

#[expect(clippy::disallowed_methods, reason = "the one place that reads the machine's clock")]
fn system_now() -> DateTime<Utc> {
    Utc::now()
}

/// The local date in a zone at an instant.
#[must_use]
pub fn local_date(zone: Tz, instant: DateTime<Utc>) -> NaiveDate {
    instant.with_timezone(&zone).date_naive()
}
