//! Tagged animals that are held back for breeding.

use chrono::NaiveDate;

/// An entry of an animal's holdback: held back, or released.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct HoldbackEntry {
    /// The local day.
    pub day: NaiveDate,
    /// Held back; else released.
    pub held: bool,
    /// Why.
    pub reason: String,
    /// Who entered it.
    pub by_name: Option<String>,
}
