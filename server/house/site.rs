//! The settings of this house, read often and so kept at hand.

use anyhow::Context as _;
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::reckoning::language::Language;

/// The settings.
#[derive(Debug, Clone)]
pub struct Site {
    /// The house's name, as papers carry it.
    pub name: String,
    /// The zone in which days begin and end.
    pub zone: Tz,
    /// The address that papers carry.
    pub address: String,
    /// The house's own emergency numbers, one a line.
    pub emergency: String,
    /// The language that sheets are printed in unless the buyer reads another.
    pub language: Language,
    /// How many hours a threat display holds opening.
    pub agitated_open_hours: i64,
    /// How many days a threat display holds rehousing.
    pub agitated_hands_in_days: i64,
    /// For changes: the version that was read.
    pub version: i64,
}

#[derive(sqlx::FromRow)]
struct SiteRow {
    name: String,
    zone: String,
    address: String,
    emergency: String,
    language: Language,
    agitated_open_hours: i64,
    agitated_hands_in_days: i64,
    version: i64,
}

impl Site {
    /// Reads the settings.
    ///
    /// # Errors
    /// The database can't be read, or names a zone that is not known.
    pub async fn read(db: &mut SqliteConnection) -> anyhow::Result<Self> {
        let row: SiteRow = sqlx::query_as(
            "SELECT name, zone, address, emergency, language, agitated_open_hours, agitated_hands_in_days, version FROM site WHERE id = 1",
        )
        .fetch_one(db)
        .await?;
        Ok(Self {
            zone: row.zone.parse().ok().with_context(|| format!("the site's zone “{}” is not known", row.zone))?,
            name: row.name,
            address: row.address,
            emergency: row.emergency,
            language: row.language,
            agitated_open_hours: row.agitated_open_hours,
            agitated_hands_in_days: row.agitated_hands_in_days,
            version: row.version,
        })
    }
}
