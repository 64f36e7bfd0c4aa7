//! Local days. A day starts at the first instant whose local date is that date, which is not always midnight and
//! not always 24 hours before the next. Zone rules: the IANA time zone data.

use chrono::{DateTime, Days, Duration, NaiveDate, NaiveTime, Offset, TimeZone, Utc};
use chrono_tz::Tz;

/// A local day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalDay {
    /// The first instant of the day.
    pub start: DateTime<Utc>,
    /// Its length in hours, to the start of the next day that exists.
    pub hours: f64,
}

/// Why there is no such day.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CalendarError {
    /// No zone of that name.
    #[error("“{0}” is not a known time zone")]
    UnknownZone(String),
    /// Not a date, such as 29 February 2027.
    #[error("“{0}” is not a date; write it as 2026-03-31")]
    NotADate(String),
    /// The zone jumped over the date, as Pacific/Apia did over 30 December 2011.
    #[error("{day} did not happen in this time zone", day = written(*.0))]
    Skipped(NaiveDate),
}

/// The local day of a zone and date given as text (`Europe/London`, `2026-03-29`).
///
/// # Errors
/// Unknown zones, impossible dates, and dates that the zone skipped.
pub fn local_day(zone: &str, date: &str) -> Result<LocalDay, CalendarError> {
    let zone: Tz = zone.parse().map_err(|_| CalendarError::UnknownZone(zone.to_owned()))?;
    let date = date.parse().map_err(|_| CalendarError::NotADate(date.to_owned()))?;
    day_in(zone, date)
}

/// The local day of a zone and date.
///
/// # Errors
/// Dates that the zone skipped, and dates at the very end of the calendar.
pub fn day_in(zone: Tz, date: NaiveDate) -> Result<LocalDay, CalendarError> {
    let start = start_of(zone, date).ok_or(CalendarError::Skipped(date))?;
    let end = (1..=2)
        .filter_map(|ahead| date.checked_add_days(Days::new(ahead)))
        .find_map(|next| start_of(zone, next))
        .ok_or(CalendarError::Skipped(date))?;
    let hours = (end - start).num_seconds() as f64 / 3600.0;
    Ok(LocalDay { start, hours })
}

/// The local date of an instant; at the very ends of the calendar, where it may have none, its date in UTC.
pub fn local_date(zone: Tz, instant: DateTime<Utc>) -> NaiveDate {
    let offset = zone.offset_from_utc_datetime(&instant.naive_utc()).fix();
    instant.naive_utc().checked_add_offset(offset).map_or_else(|| instant.date_naive(), |local| local.date())
}

/// The day so many days later; the end of the calendar if there is none.
pub fn days_after(day: NaiveDate, days: u32) -> NaiveDate {
    day.checked_add_days(Days::new(days.into())).unwrap_or(NaiveDate::MAX)
}

/// Whole days from one day to another; negative when the second is earlier.
pub fn days_between(from: NaiveDate, to: NaiveDate) -> i64 {
    (to - from).num_days()
}

/// A day as people write it: “3 March 2026”.
pub fn written(day: NaiveDate) -> String {
    day.format("%-d %B %Y").to_string()
}

fn start_of(zone: Tz, date: NaiveDate) -> Option<DateTime<Utc>> {
    let midnight = date.and_time(NaiveTime::MIN);
    if let Some(start) = zone.from_local_datetime(&midnight).earliest() {
        return Some(start.with_timezone(&Utc));
    }
    // Midnight was jumped over: look for the jump. Offsets are within 16 hours of UTC.
    let around = Utc.from_utc_datetime(&midnight);
    let most = Duration::hours(16);
    let (mut before, mut after) = (around.checked_sub_signed(most)?, around.checked_add_signed(most)?);
    while (after - before).num_seconds() > 1 {
        let middle = before + Duration::seconds((after - before).num_seconds() / 2);
        if local_date(zone, middle) < date {
            before = middle;
        } else {
            after = middle;
        }
    }
    (local_date(zone, after) == date).then_some(after)
}
