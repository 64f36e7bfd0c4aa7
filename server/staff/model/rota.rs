//! Working times: a usual week, absences, what was said of one day, and what these make of a day together.
//!
//! Days are local dates and hours are those of the clock on the wall, so a clock change moves nothing.

use chrono::{DateTime, Datelike as _, NaiveDate, Utc};

use crate::house::ids::{AbsenceId, MemberId, PatternId};

coded_enum! {
    /// Why somebody is away.
    AbsenceKind, "kind of absence" {
        Leave = "leave", "on leave";
        Ill = "ill", "ill";
        Training = "training", "in training";
        Other = "other", "away";
    }
}

crate::text_columns! { AbsenceKind }

/// The most days that an absence may last.
pub const LONGEST_ABSENCE: i64 = 366;

/// An absence can be noted so many days after its first day.
pub const ABSENCE_BACK_DAYS: u64 = 60;

/// The days of a week, Monday first.
pub const WEEKDAYS: [&str; 7] = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];

/// A working day: minutes of the local day by the clock on the wall, and how many of them are for duties.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hours {
    /// When it begins, in minutes after midnight.
    pub starts: u32,
    /// When it ends, in minutes after midnight; later than it begins, at most 1440.
    pub ends: u32,
    /// Minutes for duties, at most as many as lie between.
    pub minutes: u32,
}

impl Hours {
    /// What is taken of somebody whose week is not in the book: 08:00 to 17:00, with 240 minutes for duties (common
    /// practice, no source).
    pub const USUAL: Self = Self { starts: 480, ends: 1020, minutes: 240 };

    /// From when to when: `08:00–17:00`.
    #[must_use]
    pub fn words(&self) -> String {
        format!("{}–{}", clock(self.starts), clock(self.ends))
    }
}

/// Minutes after midnight as a clock shows them: `08:00`; the end of the day is `24:00`.
#[must_use]
pub fn clock(minutes: u32) -> String {
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

/// What a clock shows, as minutes after midnight; nothing for what no clock shows. The end of the day is `24:00`.
#[must_use]
pub fn clock_minutes(shown: &str) -> Option<u32> {
    let (hours, minutes) = shown.trim().split_once([':', '.'])?;
    let number = |digits: &str| {
        let sound = (1..=2).contains(&digits.len()) && digits.bytes().all(|byte| byte.is_ascii_digit());
        digits.parse::<u32>().ok().filter(|_| sound)
    };
    let (hours, minutes) = (number(hours)?, number(minutes).filter(|minutes| *minutes < 60)?);
    Some(hours * 60 + minutes).filter(|all| *all <= 1440)
}

/// The working hours of a week, Monday first; nothing on a day off.
pub type Week = [Option<Hours>; 7];

/// Somebody's usual week from a day on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WorkPattern {
    /// Its id; of two with the same first day the one with the higher id counts.
    pub id: PatternId,
    /// Whose it is.
    pub member: MemberId,
    /// Its first day.
    pub valid_from: NaiveDate,
    /// Its days.
    pub week: Week,
    /// Who entered it; nobody for what came with the house.
    pub entered_by: Option<String>,
    /// When.
    pub entered_at: DateTime<Utc>,
}

impl WorkPattern {
    /// The hours of a day's weekday; nothing on a day off.
    #[must_use]
    pub fn hours(&self, day: NaiveDate) -> Option<Hours> {
        self.week.get(weekday(day)).copied().flatten()
    }

    /// Minutes for duties in a whole week.
    #[must_use]
    pub fn minutes(&self) -> u32 {
        self.week.iter().flatten().map(|hours| hours.minutes).sum()
    }
}

/// The place of a day in its week: 0 Monday to 6 Sunday.
fn weekday(day: NaiveDate) -> usize {
    usize::try_from(day.weekday().num_days_from_monday()).unwrap_or_default()
}

/// The week that holds on a day: the one that began last; of several that began on one day, the one entered last.
#[must_use]
pub fn holding(patterns: &[WorkPattern], day: NaiveDate) -> Option<&WorkPattern> {
    patterns.iter().filter(|pattern| pattern.valid_from <= day).max_by_key(|pattern| (pattern.valid_from, pattern.id))
}

/// Days on which somebody is away.
#[derive(Debug, Clone, PartialEq, Eq, sqlx::FromRow)]
pub struct Absence {
    /// Its id.
    pub id: AbsenceId,
    /// Who is away.
    pub member_id: MemberId,
    /// The first day.
    pub first_day: NaiveDate,
    /// The last day.
    pub last_day: NaiveDate,
    /// Why.
    pub kind: AbsenceKind,
    /// More about it; may be empty.
    pub note: String,
    /// Who entered it.
    pub entered_by: Option<String>,
    /// When.
    pub entered_at: DateTime<Utc>,
    /// Who cancelled it.
    pub cancelled_by: Option<String>,
    /// When; none while it stands.
    pub cancelled_at: Option<DateTime<Utc>>,
}

impl Absence {
    /// Whether it stands and holds on a day.
    #[must_use]
    pub fn covers(&self, day: NaiveDate) -> bool {
        self.overlaps(day, day)
    }

    /// Whether it stands and has a day in common with a span of days, both ends included.
    #[must_use]
    pub fn overlaps(&self, first: NaiveDate, last: NaiveDate) -> bool {
        self.cancelled_at.is_none() && self.first_day <= last && self.last_day >= first
    }

    /// Why somebody is not in on one of its days: `on leave until 3 December`, `ill` on its last day.
    #[must_use]
    pub fn why(&self, day: NaiveDate) -> String {
        if self.last_day <= day {
            return self.kind.label().to_owned();
        }
        let format = if self.last_day.year() == day.year() { "%-d %B" } else { "%-d %B %Y" };
        format!("{} until {}", self.kind, self.last_day.format(format))
    }
}

/// A checked absence.
#[derive(Debug, Clone)]
pub struct NewAbsence {
    /// Who is away.
    pub member: MemberId,
    /// The first day.
    pub first_day: NaiveDate,
    /// The last day.
    pub last_day: NaiveDate,
    /// Why.
    pub kind: AbsenceKind,
    /// More about it; may be empty.
    pub note: String,
}

impl NewAbsence {
    /// Its first and last day in words.
    #[must_use]
    pub fn days(&self) -> String {
        use crate::house::text::day;
        if self.first_day == self.last_day { day(&self.first_day) } else { format!("{} to {}", day(&self.first_day), day(&self.last_day)) }
    }
}

/// What was said of one person on one day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Said {
    /// Whether they are in.
    pub present: bool,
    /// Minutes that they have for duties.
    pub minutes: u32,
}

/// One person on one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OnDay {
    /// Who.
    pub member: MemberId,
    /// Their name.
    pub name: String,
    /// Whether they are in.
    pub present: bool,
    /// Minutes that they have for duties; for somebody who is not in, those that they would have.
    pub minutes: u32,
    /// When they come, in minutes of the local day; for somebody who is not in, when they would.
    pub starts: u32,
    /// When they go.
    pub ends: u32,
    /// Why they are not in; none when they are.
    pub why_not: Option<String>,
    /// Whether it was said of this one day, over week and absence.
    pub said: bool,
}

impl OnDay {
    /// From when to when: `08:00–17:00`.
    #[must_use]
    pub fn hours(&self) -> String {
        Hours { starts: self.starts, ends: self.ends, minutes: self.minutes }.words()
    }
}

/// What is known of one person's working times.
#[derive(Debug, Clone, Default)]
pub struct Times {
    /// Their usual weeks.
    pub patterns: Vec<WorkPattern>,
    /// Their absences.
    pub absences: Vec<Absence>,
}

impl Times {
    /// What becomes of a day: what was said of it counts most, then absences, then the usual week. Without a usual week
    /// somebody counts as in.
    #[must_use]
    pub fn on(&self, (member, name): (MemberId, &str), day: NaiveDate, said: Option<Said>) -> OnDay {
        let pattern = holding(&self.patterns, day);
        let works = pattern.map_or(Some(Hours::USUAL), |pattern| pattern.hours(day));
        let hours = works.unwrap_or(Hours::USUAL);
        let absence = self.absences.iter().find(|absence| absence.covers(day));
        let by_book = match (absence, works) {
            (Some(absence), _) => Some(absence.why(day)),
            (None, None) => Some(format!("does not work on {}s", day.format("%A"))),
            (None, Some(_)) => None,
        };
        let why_not = match said {
            Some(Said { present: true, .. }) => None,
            Some(Said { present: false, .. }) => Some(by_book.unwrap_or_else(|| "said not to be in".to_owned())),
            None => by_book,
        };
        OnDay {
            member,
            name: name.to_owned(),
            present: why_not.is_none(),
            minutes: said.map_or(hours.minutes, |said| said.minutes),
            starts: hours.starts,
            ends: hours.ends,
            why_not,
            said: said.is_some(),
        }
    }
}
