//! Which duties are due on a day, and why.
//!
//! A pure function of the facts: a due day follows from the last event, so planning again gives the same days, and
//! what is overdue carries over and never doubles. At most one duty comes out for one subject and kind.
//!
//! What must not be done at all is not planned (feeding in pre-moult, a rehouse just after a moult); [`feed_state`]
//! and [`rehouse_state`] say why. What is due but must wait for a hold is planned and marked as held. [`explain`] tells
//! of every kind of duty what the planner weighed: it runs the same rules as [`plan`], which only keeps quiet about them.
//!
//! Exposures: checks of moults, counts, readings and sacs with their dam are looked at with the lid closed; feeding,
//! water, clearing, spot cleans and checks and turns of pulled sacs open the lid; rehousing and taking a sac from its
//! dam bring hands in. All intervals and minutes are common practice, no source.

mod ahead;
mod animal;
mod apart;
mod care;
mod cohort;
mod facts;
mod feeding;
mod outlook;
mod rehouse;
mod room;
mod sac;
mod site;

use chrono::{DateTime, Duration, NaiveDate, Utc};

use super::calendar::{days_after, local_date, written};
use super::hazard::{Band, ExposureTable, assess};
use super::words::{DutyKind, Exposure};
use outlook::{Aim, Course, Need, Steps};

pub use ahead::{ComingDuty, ComingFeed, LeftIn, MOST_DAYS, coming_feeds, done_as_planned, left_in_share, look_ahead};
pub use apart::{ApartKind, SetApart};
pub use care::{Care, SacRules, StageRules};
pub use facts::{
    AnimalFacts, CohortFacts, CountOff, ExpectedMoult, HoldFacts, LastMeal, PlannedDuty, RehouseNeed, RoomFacts, SacFacts, Subject,
    SubjectKey, SubjectKind,
};
pub use feeding::{FeedState, NotFed, cohort_feed_state, feed_allowed, feed_state};
pub use outlook::{Outlook, Standing};
pub use rehouse::{RehouseState, rehouse_state};
pub use site::SiteRules;

/// The duties that are due or overdue on a day, in order of due day, subject and kind, whatever the order given.
pub fn plan(day: NaiveDate, subjects: &[Subject], rules: &SiteRules, table: &ExposureTable) -> Vec<PlannedDuty> {
    let desk = Desk { day, rules, table, asked: false };
    let mut duties: Vec<PlannedDuty> = subjects.iter().flat_map(|subject| desk.settle(subject)).collect();
    duties.sort_by_key(|duty| (duty.due_on, duty.subject, duty.kind));
    duties
}

/// Where every kind of duty stands for one subject on a day, with each rule that was weighed.
pub fn explain(day: NaiveDate, subject: &Subject, rules: &SiteRules, table: &ExposureTable) -> Vec<Outlook> {
    Desk { day, rules, table, asked: true }.outlooks(subject)
}

/// What every duty is planned with.
struct Desk<'a> {
    day: NaiveDate,
    rules: &'a SiteRules,
    table: &'a ExposureTable,
    /// Whether the rules are to be written down.
    asked: bool,
}

impl Desk<'_> {
    fn aims(&self, subject: &Subject) -> Vec<Aim> {
        match subject {
            Subject::Animal(facts) => animal::aims(self, facts),
            Subject::Cohort(facts) => cohort::aims(self, facts),
            Subject::Sac(facts) => sac::aims(self, facts),
            Subject::Room(facts) => vec![room::reading(self, facts)],
        }
    }

    /// Makes duties of the needs that have fallen due.
    fn settle(&self, subject: &Subject) -> Vec<PlannedDuty> {
        let (key, band, holds) = (subject.key(), band(subject), holds(subject));
        let due = |aim: Aim| match aim.course {
            Course::Need(need) if need.due_on <= self.day => Some((aim.kind, need)),
            _ => None,
        };
        let duty = |(kind, need): (DutyKind, Need)| {
            let required = self.table.required(band, need.exposure);
            PlannedDuty {
                subject: key,
                kind,
                due_on: need.due_on,
                late_after: need.late_after.max(need.due_on),
                due_at: need.due_at,
                minutes: need.minutes.max(1),
                exposure: need.exposure,
                band,
                clearance: required.clearance,
                persons: required.persons,
                held: self.stopped(&need, holds),
                reason: need.reason,
            }
        };
        self.aims(subject).into_iter().filter_map(due).map(duty).collect()
    }

    fn outlooks(&self, subject: &Subject) -> Vec<Outlook> {
        let holds = holds(subject);
        let told = |aim: Aim| {
            let exposure = if let Course::Need(need) = &aim.course { Some(need.exposure) } else { None };
            let (standing, held) = match aim.course {
                Course::Need(need) if need.due_on <= self.day => {
                    (Standing::Due { since: need.due_on, late_after: need.late_after.max(need.due_on) }, self.stopped(&need, holds))
                }
                Course::Need(need) => (Standing::From { day: need.due_on }, self.stopped(&need, holds)),
                Course::Waits(reason) => (Standing::Waits { reason: reason.into_owned() }, None),
                Course::NotNeeded(reason) => (Standing::NotNeeded { reason: reason.into_owned() }, None),
            };
            Outlook { kind: aim.kind, standing, exposure, held, rules: aim.steps.told() }
        };
        self.aims(subject).into_iter().map(told).collect()
    }

    fn stopped(&self, need: &Need, holds: &[HoldFacts]) -> Option<String> {
        need.stopped.map(str::to_owned).or_else(|| self.held(holds, need.exposure))
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

    fn steps(&self) -> Steps {
        Steps::when(self.asked)
    }

    /// Whether anybody will read why: what is not due yet is not put into words unless it is asked for.
    fn tells(&self, due_on: NaiveDate) -> bool {
        self.asked || due_on <= self.day
    }

    /// Taking out prey that was left in.
    fn clear_uneaten(&self, left_in_at: DateTime<Utc>, hours: u32, minutes: u32) -> Need {
        let due_at = left_in_at.checked_add_signed(Duration::hours(hours.into())).unwrap_or(left_in_at);
        let due_on = local_date(self.rules.zone, due_at);
        let reason =
            format!("prey left in on {}; uneaten prey comes out within {hours} hours", written(local_date(self.rules.zone, left_in_at)));
        Need { due_on, late_after: due_on, due_at: Some(due_at), exposure: Exposure::Open, minutes, reason, stopped: None }
    }

    /// Work that comes round every so many days since it was last done (or since care began).
    fn routine(&self, work: &Routine, steps: &mut Steps) -> Need {
        let due_on = days_after(work.last.unwrap_or(work.started), work.every);
        let reason = || {
            let since = match work.last {
                Some(day) => format!("last done on {}", written(day)),
                None => format!("not done yet since {}", written(work.started)),
            };
            format!("{since}; every {}", days(work.every))
        };
        steps.say(|| format!("{}, so from {}", reason(), written(due_on)));
        Need {
            due_on,
            late_after: days_after(due_on, work.every / 2),
            due_at: None,
            exposure: work.exposure,
            minutes: work.minutes,
            reason: if self.tells(due_on) { reason() } else { String::new() },
            stopped: None,
        }
    }

    /// Draws a need closer, when another rule asks for it as soon or sooner.
    fn draw_closer(&self, need: &mut Need, (due_on, grace_days): (NaiveDate, u32), steps: &mut Steps, reason: impl Fn() -> String) {
        steps.say(|| format!("{}, so from {}", reason(), written(due_on)));
        if due_on <= need.due_on {
            need.due_on = due_on;
            need.late_after = days_after(due_on, grace_days);
            need.reason = if self.tells(due_on) { reason() } else { String::new() };
        }
    }
}

/// Work that comes round.
struct Routine {
    exposure: Exposure,
    minutes: u32,
    /// When it was last done.
    last: Option<NaiveDate>,
    /// When care began.
    started: NaiveDate,
    /// Every so many days.
    every: u32,
}

fn band(subject: &Subject) -> Band {
    match subject {
        Subject::Animal(facts) => assess(&facts.hazard).band,
        Subject::Cohort(facts) => assess(&facts.hazard).band,
        // Eggs neither bite nor shed setae: a pulled sac is band 0.
        Subject::Sac(facts) if facts.with_dam => assess(&facts.hazard).band,
        Subject::Sac(_) | Subject::Room(_) => Band::NONE,
    }
}

fn holds(subject: &Subject) -> &[HoldFacts] {
    match subject {
        Subject::Animal(facts) => &facts.holds,
        Subject::Cohort(facts) => &facts.holds,
        Subject::Sac(_) | Subject::Room(_) => &[],
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
