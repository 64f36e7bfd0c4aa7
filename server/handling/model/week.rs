//! The days ahead: who is in when, cleared for what and not reserved, and so when the people of a rehouse can meet.

use chrono::{DateTime, NaiveDate, Timelike as _, Utc};
use chrono_tz::Tz;

use super::{DayTimes, Hold, PossibleTime, RehouseDuty, Who};
use crate::house::text;
use crate::reckoning::together::Span;
use crate::reckoning::who_may::{Part, level_for, missing};
use crate::staff::model::OnDay;

/// How many days are looked ahead, today among them.
pub const DAYS_AHEAD: u64 = 7;

/// The most times that are named of one day.
const MOST_TIMES: usize = 4;

/// An instant with its local day.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    /// The instant.
    pub at: DateTime<Utc>,
    /// The local day.
    pub today: NaiveDate,
    /// The site's zone.
    pub zone: Tz,
}

impl Moment {
    /// An instant as a local day and the minute that a clock on the wall shows.
    #[must_use]
    pub fn minute_of(&self, at: DateTime<Utc>) -> (NaiveDate, u32) {
        let local = at.with_timezone(&self.zone);
        (local.date_naive(), local.hour() * 60 + local.minute())
    }
}

/// One person on one day.
#[derive(Debug, Clone)]
pub struct PersonOnDay {
    /// Who, and what they are cleared for on that day.
    pub who: Who,
    /// Whether and when they are in.
    pub on: OnDay,
    /// When they are reserved for other rehouses.
    pub taken: Vec<Span>,
}

impl PersonOnDay {
    fn may(&self, duty: &RehouseDuty, part: Part) -> bool {
        level_for(duty.asked(), part).is_some() && missing(duty.asked(), part, self.who.standing()).is_none()
    }

    fn hours(&self) -> Option<Span> {
        self.on.present.then_some(Span { from: self.on.starts, to: self.on.ends })
    }

    fn name(&self) -> String {
        self.who.person.name.clone()
    }
}

/// One day: everybody who looks after animals, the highest clearance first.
#[derive(Debug, Clone)]
pub struct DayAhead {
    /// The local day.
    pub day: NaiveDate,
    /// The people.
    pub people: Vec<PersonOnDay>,
}

/// The days ahead, from a moment on.
#[derive(Debug, Clone)]
pub struct WeekAhead {
    /// From when on.
    pub now: Moment,
    /// The days, today first.
    pub days: Vec<DayAhead>,
}

/// From when on a rehouse may be done: the day and its minute; nothing while a hold has no end.
#[must_use]
pub fn free_from(now: &Moment, holds: &[Hold]) -> Option<(NaiveDate, u32)> {
    let ends: Option<Vec<DateTime<Utc>>> = holds.iter().map(|hold| hold.until_at).collect();
    Some(now.minute_of(ends?.into_iter().max().unwrap_or(now.at).max(now.at)))
}

impl WeekAhead {
    /// The names of those who could take a part today.
    #[must_use]
    pub fn able(&self, duty: &RehouseDuty, part: Part) -> Vec<String> {
        let today = self.days.first();
        today.map_or_else(Vec::new, |day| day.people.iter().filter(|person| person.may(duty, part)).map(PersonOnDay::name).collect())
    }

    /// When the people of a rehouse are in together and free for as long as it takes; `holds` are those on the animal.
    #[must_use]
    pub fn times(&self, duty: &RehouseDuty, holds: &[Hold]) -> Vec<DayTimes> {
        let Some(free) = free_from(&self.now, holds) else { return Vec::new() };
        let of = |day: &DayAhead| DayTimes { day: day.day, times: day.times(duty, free) };
        self.days.iter().map(of).filter(|day| !day.times.is_empty()).collect()
    }

    /// Why nobody can do a rehouse in the days ahead.
    #[must_use]
    pub fn nobody(&self, duty: &RehouseDuty, holds: &[Hold]) -> String {
        let Some(today) = self.days.first() else { return "No day is planned ahead.".to_owned() };
        let (first, second) = (self.able(duty, Part::First), self.able(duty, Part::Second));
        if first.is_empty() {
            return format!("Nobody is cleared for it today: it needs {}. {}", text::clearance(&duty.clearance), today.next_best());
        }
        if duty.takes_two() && second.iter().all(|name| first.len() == 1 && first.contains(name)) {
            let needs = text::clearance(&(duty.clearance - 1).max(0));
            return format!(
                "Only {} could be first today, and nobody else could be second: that takes {needs}. {}",
                first.join(", "),
                today.next_best()
            );
        }
        let last = self.days.last().map_or(today.day, |day| day.day);
        match free_from(&self.now, holds) {
            None => "It is held until somebody lifts the hold.".to_owned(),
            Some((day, _)) if day > last => format!("It is held beyond the next {DAYS_AHEAD} days."),
            Some(_) => self.never_together(duty),
        }
    }

    fn never_together(&self, duty: &RehouseDuty) -> String {
        let Some(today) = self.days.first() else { return String::new() };
        let able = today.people.iter().filter(|person| person.may(duty, Part::First) || person.may(duty, Part::Second));
        let (names, away): (Vec<String>, Vec<Option<String>>) =
            able.map(|person| (person.name(), person.on.why_not.as_ref().map(|why| format!("{} is {why} today.", person.name())))).unzip();
        let (who, together) = if names.len() == 1 { (names.join(""), "is not in") } else { (names.join(", "), "are not in together") };
        let why: Vec<String> = away.into_iter().flatten().collect();
        format!("{who} {together} and free for {} minutes within {DAYS_AHEAD} days. {}", duty.minutes(), why.join(" "))
            .trim_end()
            .to_owned()
    }
}

impl DayAhead {
    fn times(&self, duty: &RehouseDuty, free: (NaiveDate, u32)) -> Vec<PossibleTime> {
        if self.day < free.0 {
            return Vec::new();
        }
        let from = if self.day == free.0 { free.1 } else { 0 };
        let rest = Span { from: from.next_multiple_of(5), to: 1440 };
        let mut times = Vec::new();
        for (place, first) in self.people.iter().enumerate().filter(|(_, person)| person.may(duty, Part::First)) {
            if !duty.takes_two() {
                times.extend(free_times(duty, rest, first, None));
                continue;
            }
            for (other, second) in self.people.iter().enumerate().filter(|(_, person)| person.may(duty, Part::Second)) {
                // Of two who could both be first, the one who stands first here is.
                let seen = other < place && second.may(duty, Part::First);
                if other != place && !seen {
                    times.extend(free_times(duty, rest, first, Some(second)));
                }
            }
        }
        times.sort_by_key(|time| time.span);
        times.truncate(MOST_TIMES);
        times
    }

    /// Who is nearest to being cleared, in a sentence.
    fn next_best(&self) -> String {
        let said = self.people.iter().filter_map(|person| {
            let name = person.name();
            if person.who.person.suspended_for.is_some() {
                return Some(format!("The clearances of {name} rest until a review."));
            }
            (person.who.person.level > 0).then(|| format!("{name} holds clearance {}.", person.who.person.level))
        });
        let said: Vec<String> = said.collect();
        if said.is_empty() { "Nobody who looks after animals holds a clearance today.".to_owned() } else { said.join(" ") }
    }
}

fn free_times(duty: &RehouseDuty, rest: Span, first: &PersonOnDay, second: Option<&PersonOnDay>) -> Vec<PossibleTime> {
    let Some(mut both) = first.hours().and_then(|hours| hours.common(rest)) else { return Vec::new() };
    let mut taken = first.taken.clone();
    if let Some(second) = second {
        let Some(common) = second.hours().and_then(|hours| hours.common(both)) else { return Vec::new() };
        both = common;
        taken.extend(&second.taken);
    }
    let named = |person: &PersonOnDay| (person.who.person.id, person.name());
    let time = |span| PossibleTime { first: named(first), second: second.map(named), span };
    both.without(&taken, duty.minutes()).into_iter().map(time).collect()
}
