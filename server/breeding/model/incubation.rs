//! What is noted beside a sac.

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{SacId, SacReadingId, SacSeenId};
use crate::reckoning::stage::Stage;

/// A reading beside a sac.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct SacReading {
    /// Its id.
    pub id: SacReadingId,
    /// When it was read.
    pub at: DateTime<Utc>,
    /// The local day.
    pub day: NaiveDate,
    /// Tenths of °C.
    pub decicelsius: i64,
    /// Relative humidity, %.
    pub humidity: Option<i64>,
    /// Who read it; empty when nobody did.
    pub by_name: String,
}

/// A checked reading.
#[derive(Debug, Clone, Copy)]
pub struct NewSacReading {
    /// Its sac.
    pub sac: SacId,
    /// When it was read.
    pub at: DateTime<Utc>,
    /// The local day.
    pub day: NaiveDate,
    /// Tenths of °C.
    pub decicelsius: i64,
    /// Relative humidity, %.
    pub humidity: Option<i64>,
}

/// A stage that somebody saw.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Seen {
    /// Its id.
    pub id: SacSeenId,
    /// The stage.
    pub stage: Stage,
    /// The day.
    pub day: NaiveDate,
    /// Who saw it; empty when nobody did.
    pub by_name: String,
}
