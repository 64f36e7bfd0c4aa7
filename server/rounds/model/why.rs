//! Why nobody has a duty.

use super::share::{AtWork, minutes, second_level};
use crate::house::ids::MemberId;
use crate::rounds::model::Duty;

/// Why nobody takes somebody's part of a duty, as the house stands without them.
#[must_use]
pub fn why_not_passed_on(duty: &Duty, member: MemberId, team: &[AtWork]) -> String {
    let stays = |id: Option<MemberId>| id.filter(|id| *id != member);
    let freed = duty.assigned_to == Some(member);
    let (assigned_to, second_to) = if freed { (None, None) } else { (stays(duty.assigned_to), None) };
    why_unassigned(&Duty { assigned_to, second_to, ..duty.clone() }, team)
}

/// The most people who are named in a reason.
const MOST_NAMED: usize = 4;

/// Why nobody has a duty, or not enough people have it, exactly: it is on hold; nobody holds the clearance; those who do
/// are not in; they are in but have no minutes left; or it has not been shared out yet.
#[must_use]
pub fn why_unassigned(duty: &Duty, team: &[AtWork]) -> String {
    let people = People { duty, team };
    match (&duty.held, people.nobody_may()) {
        (Some(held), None) => format!("on hold: {held}"),
        (Some(held), Some(why)) => format!("on hold: {held}; and it {why}"),
        (None, Some(why)) => why,
        (None, None) => people.not_in().or_else(|| people.full()).unwrap_or_else(|| people.not_shared_out()),
    }
}

/// The people of the house beside one duty.
struct People<'a> {
    duty: &'a Duty,
    team: &'a [AtWork],
}

impl People<'_> {
    fn with(&self, level: i64) -> impl Iterator<Item = &AtWork> {
        self.team.iter().filter(move |person| person.level >= level)
    }

    fn needs(&self) -> String {
        if self.duty.clearance == 0 { String::new() } else { format!("needs clearance {}: ", self.duty.clearance) }
    }

    /// Nobody in the house is cleared, whoever is in.
    fn nobody_may(&self) -> Option<String> {
        if self.with(self.duty.clearance).next().is_some() {
            return self.no_second(false);
        }
        if self.duty.clearance == 0 {
            return Some("has nobody: no one here looks after animals".to_owned());
        }
        let rest = names(self.team.iter().filter(|person| person.suspended));
        let rest = if rest.is_empty() { rest } else { format!("; the clearances of {rest} rest until a lead has reviewed their incident") };
        Some(format!("{}nobody holds it today{rest}", self.needs()))
    }

    /// For a duty of two: whether there is nobody to be the second, in the house or among those who are in.
    fn no_second(&self, present: bool) -> Option<String> {
        let level = second_level(self.duty);
        if !self.duty.takes_two() || self.with(level).filter(|person| person.present || !present).count() >= 2 {
            return None;
        }
        let only = names(self.with(level).filter(|person| person.present || !present));
        let cleared = if level == 0 { String::new() } else { format!(" with clearance {level} or more") };
        let why = if present { self.away(self.with(level)) } else { String::new() };
        Some(format!("needs two people{cleared}: only {only} {}{why}", if present { "is in today" } else { "is there" }))
    }

    /// Those who may are not in today.
    fn not_in(&self) -> Option<String> {
        let able = || self.with(self.duty.clearance);
        if able().any(|person| person.present) {
            return self.no_second(true);
        }
        if self.duty.clearance == 0 {
            return Some(format!("nobody is in today{}", self.away(able())));
        }
        Some(format!("{}nobody who holds it is in today{}", self.needs(), self.away(able())))
    }

    /// ` (Bo: ill; Cy: on leave until 3 December)`.
    fn away<'p>(&self, people: impl Iterator<Item = &'p AtWork>) -> String {
        let away: Vec<String> = people.filter_map(|person| Some(format!("{}: {}", person.name, person.why_not.as_ref()?))).collect();
        if away.is_empty() { String::new() } else { format!(" ({})", away.join("; ")) }
    }

    /// Those who may and are in have no minutes left for it.
    fn full(&self) -> Option<String> {
        let takes = minutes(self.duty);
        let has_room = |person: &&AtWork| {
            let own = if [self.duty.assigned_to, self.duty.second_to].contains(&Some(person.member)) { takes } else { 0 };
            person.free() + own >= takes
        };
        let present = |level: i64| self.with(level).filter(|person| person.present);
        let first = present(self.duty.clearance).any(|person| has_room(&person));
        let level = if self.duty.takes_two() { second_level(self.duty) } else { self.duty.clearance };
        let enough = if self.duty.takes_two() { 2 } else { 1 };
        if first && present(level).filter(has_room).count() >= enough {
            return None;
        }
        let mut days: Vec<String> = present(level).take(MOST_NAMED).map(AtWork::day).collect();
        let more = present(level).count().saturating_sub(days.len());
        if more > 0 {
            days.push(format!("{more} more"));
        }
        let two = if self.duty.takes_two() {
            "two people who may do it and have room are not in"
        } else {
            "everybody who may do it and is in is full"
        };
        Some(format!("{}takes {takes} min, and {two}: {}", self.needs(), days.join(", ")))
    }

    fn not_shared_out(&self) -> String {
        let able: Vec<&AtWork> = self.with(self.duty.clearance).filter(|person| person.present).collect();
        let second = if self.duty.assigned_to.is_some() { "a second person is not named yet" } else { "not shared out yet" };
        match able.len() {
            1..=3 => format!("{}{second}; {} may do it", self.needs(), names(able.into_iter())),
            more => format!("{}{second}; {more} people may do it", self.needs()),
        }
    }
}

/// `Bo, Cy and Di`.
fn names<'a>(people: impl Iterator<Item = &'a AtWork>) -> String {
    let names: Vec<&str> = people.map(|person| person.name.as_str()).collect();
    match names.split_last() {
        None => String::new(),
        Some((one, [])) => (*one).to_owned(),
        Some((last, before)) => format!("{} and {last}", before.join(", ")),
    }
}
