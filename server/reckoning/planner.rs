//! Which duties are due on a day, and why.
//!
//! A pure function of the facts: a due day follows from the last event, so planning again gives the same days, and
//! what is overdue carries over and never doubles. At most one duty comes out for one subject and kind.
//!
//! What must not be done at all is not planned (feeding in pre-moult, a rehouse just after a moult); [`feed_state`]
//! and [`rehouse_state`] say why. What is due but must wait for a hold is planned and marked as held.
//!
//! Exposures: checks of moults, counts and sacs with their dam are looked at with the lid closed; feeding, water,
//! clearing, spot cleans and checks of pulled sacs open the lid; rehousing and taking a sac from its dam bring hands
//! in. All intervals and minutes are common practice, no source.

mod ahead;
mod animal;
mod cohort;
mod facts;
mod feeding;
mod rehouse;
mod sac;

use chrono::{DateTime, Duration, NaiveDate, Utc};

use super::calendar::{days_after, local_date, written};
use super::hazard::{Band, ExposureTable};
use super::words::{DutyKind, Exposure};

pub use ahead::{ComingDuty, ComingFeed, LeftIn, MOST_DAYS, coming_feeds, done_as_planned, left_in_share, look_ahead};
pub use facts::{
    AnimalFacts, Care, CohortFacts, ExpectedMoult, HoldFacts, LastMeal, PlannedDuty, RehouseNeed, SacFacts, SiteRules, Subject, SubjectKey,
    SubjectKind,
};
pub use feeding::{FeedState, NotFed, cohort_feed_state, feed_allowed, feed_state};
pub use rehouse::{RehouseState, rehouse_state};

/// The duties that are due or overdue on a day, in order of due day, subject and kind, whatever the order given.
pub fn plan(day: NaiveDate, subjects: &[Subject], rules: &SiteRules, table: &ExposureTable) -> Vec<PlannedDuty> {
    let desk = Desk { day, rules, table };
    let mut duties: Vec<PlannedDuty> = subjects
        .iter()
        .flat_map(|subject| match subject {
            Subject::Animal(facts) => animal::duties(&desk, facts),
            Subject::Cohort(facts) => cohort::duties(&desk, facts),
            Subject::Sac(facts) => sac::duties(&desk, facts),
        })
        .collect();
    duties.sort_by_key(|duty| (duty.due_on, duty.subject, duty.kind));
    duties
}

/// What every duty is planned with.
struct Desk<'a> {
    day: NaiveDate,
    rules: &'a SiteRules,
    table: &'a ExposureTable,
}

/// A need that has not been held against the day, the holds and the table yet.
struct Need {
    kind: DutyKind,
    due_on: NaiveDate,
    late_after: NaiveDate,
    due_at: Option<DateTime<Utc>>,
    exposure: Exposure,
    minutes: u32,
    reason: String,
}

impl Desk<'_> {
    /// Makes duties of the needs that have fallen due.
    fn settle(&self, subject: SubjectKey, band: Band, holds: &[HoldFacts], needs: Vec<Need>) -> Vec<PlannedDuty> {
        needs
            .into_iter()
            .filter(|need| need.due_on <= self.day)
            .map(|need| {
                let required = self.table.required(band, need.exposure);
                PlannedDuty {
                    subject,
                    kind: need.kind,
                    due_on: need.due_on,
                    late_after: need.late_after.max(need.due_on),
                    due_at: need.due_at,
                    minutes: need.minutes.max(1),
                    exposure: need.exposure,
                    band,
                    clearance: required.clearance,
                    persons: required.persons,
                    reason: need.reason,
                    held: self.held(holds, need.exposure),
                }
            })
            .collect()
    }

    /// The hold that lasts longest, in words.
    fn held(&self, holds: &[HoldFacts], exposure: Exposure) -> Option<String> {
        let hold = holds
            .iter()
            .filter(|hold| hold.stops(exposure, self.day))
            .max_by_key(|hold| (hold.until.unwrap_or(NaiveDate::MAX), hold.from, hold.kind))?;
        let until = hold.until.map_or_else(|| "until it is lifted".to_owned(), |free| format!("until {}", written(free)));
        let reason = if hold.reason.is_empty() { String::new() } else { format!(" ({})", hold.reason) };
        Some(format!("{} {until}{reason}", hold.kind))
    }

    /// Taking out prey that was left in.
    fn clear_uneaten(&self, left_in_at: DateTime<Utc>, hours: u32, minutes: u32) -> Need {
        let due_at = left_in_at.checked_add_signed(Duration::hours(hours.into())).unwrap_or(left_in_at);
        let due_on = local_date(self.rules.zone, due_at);
        Need {
            kind: DutyKind::ClearUneaten,
            due_on,
            late_after: due_on,
            due_at: Some(due_at),
            exposure: Exposure::Open,
            minutes,
            reason: format!(
                "prey left in on {}; uneaten prey comes out within {hours} hours",
                written(local_date(self.rules.zone, left_in_at))
            ),
        }
    }
}

/// Work that comes round every so many days since it was last done (or since care began).
fn routine(kind: DutyKind, exposure: Exposure, minutes: u32, last: (Option<NaiveDate>, NaiveDate), every: u32) -> Need {
    let (done, started) = last;
    let due_on = days_after(done.unwrap_or(started), every);
    let since = match done {
        Some(day) => format!("last done on {}", written(day)),
        None => format!("not done yet since {}", written(started)),
    };
    Need {
        kind,
        due_on,
        late_after: days_after(due_on, every / 2),
        due_at: None,
        exposure,
        minutes,
        reason: format!("{since}; every {}", days(every)),
    }
}

/// A number of days in words.
fn days(count: u32) -> String {
    if count == 1 { "day".to_owned() } else { format!("{count} days") }
}

/// Minutes for a group, from minutes for a hundred, rounded up.
fn for_group(count: u32, minutes_per_hundred: u32) -> u32 {
    count.saturating_mul(minutes_per_hundred).div_ceil(100)
}
