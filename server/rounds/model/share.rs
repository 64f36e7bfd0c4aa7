//! Sharing a day out: who is in and how full their day is, how much a duty matters, and what sharing out gives.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::why::why_unassigned;
use crate::house::ids::{DutyId, MemberId};
use crate::reckoning::rota;
use crate::reckoning::words::DutyKind;
use crate::rounds::model::Duty;

/// Somebody on a day: what they are cleared for, whether they are in, and how full their day is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AtWork {
    /// Who.
    pub member: MemberId,
    /// Their name.
    pub name: String,
    /// What they are cleared for today, 0 to 3.
    pub level: i64,
    /// Whether their clearances rest until an incident was reviewed.
    pub suspended: bool,
    /// Whether they are in.
    pub present: bool,
    /// Why they are not in; none when they are.
    pub why_not: Option<String>,
    /// From when to when they are in, or would be: `08:00–17:00`.
    pub hours: String,
    /// Minutes that they have for duties on the whole day.
    pub minutes: u32,
    /// Of these, minutes of the duties that they signed off today.
    pub done: u32,
    /// Minutes of the open duties that are theirs and can be done today.
    pub load: u32,
}

impl AtWork {
    /// Minutes that are left of their day, whatever is theirs already.
    #[must_use]
    pub fn left(&self) -> u32 {
        self.minutes.saturating_sub(self.done)
    }

    /// Minutes that are left beside what is theirs already.
    #[must_use]
    pub fn free(&self) -> u32 {
        self.left().saturating_sub(self.load)
    }

    /// How full what is left of their day is; 0 for somebody without minutes.
    #[must_use]
    pub fn full(&self) -> f64 {
        if self.left() == 0 { 0.0 } else { f64::from(self.load) / f64::from(self.left()) }
    }

    /// As reasons name their day: `Bo 200 of 240 min`.
    #[must_use]
    pub fn day(&self) -> String {
        let done = if self.done > 0 { format!(", {} done", self.done) } else { String::new() };
        format!("{} {} of {} min{done}", self.name, self.load + self.done, self.minutes)
    }

    /// As a list of people names them: `Bo (clearance 2, 40 min left)`, `Bo (not in: ill)`.
    #[must_use]
    pub fn called(&self) -> String {
        let level = if self.level > 0 { format!("clearance {}, ", self.level) } else { String::new() };
        match &self.why_not {
            Some(why) => format!("{} ({level}not in: {why})", self.name),
            None => format!("{} ({level}{} min left)", self.name, self.free()),
        }
    }
}

/// How many minutes a duty takes each of those who do it, at least 1.
#[must_use]
pub fn minutes(duty: &Duty) -> u32 {
    u32::try_from((duty.seconds + 59) / 60).unwrap_or(u32::MAX).max(1)
}

/// Whether a duty can be done on a day: it has fallen due, and nothing stops it.
#[must_use]
pub fn can_be_done(duty: &Duty, today: NaiveDate) -> bool {
    duty.held.is_none() && duty.due_on <= today
}

/// The clearance that the second person of a duty for two needs.
#[must_use]
pub fn second_level(duty: &Duty) -> i64 {
    (duty.clearance - 1).max(0)
}

/// How much is lost by leaving a duty undone today: what can't wait comes before what is late, and what is late before
/// what fell due today (common practice, no source).
#[must_use]
pub fn urgency(duty: &Duty, today: NaiveDate) -> u32 {
    let cannot_wait = matches!(duty.kind, DutyKind::ClearUneaten | DutyKind::SacCheck);
    1 + 2 * u32::from(duty.is_late(&today)) + 4 * u32::from(cannot_wait)
}

/// A duty as the reckoning of rotas wants it, pinned to somebody or to nobody.
#[must_use]
pub fn asked(duty: &Duty, today: NaiveDate, pinned: Option<MemberId>) -> rota::Duty {
    rota::Duty {
        id: duty.id.to_string(),
        minutes: minutes(duty),
        required_clearance: level(duty.clearance),
        people: if duty.takes_two() { 2 } else { 1 },
        rack: duty.rack_id.map_or_else(String::new, |rack| rack.to_string()),
        urgency: urgency(duty, today),
        pinned_to: pinned.map(|id| id.to_string()),
    }
}

/// Makes pinned duties weigh more than all others together, so that none of them gives way to something more urgent.
pub fn keep_pinned(duties: &mut [rota::Duty]) {
    let others: u32 = duties.iter().filter(|duty| duty.pinned_to.is_none()).map(|duty| duty.urgency).fold(0, u32::saturating_add);
    for duty in duties.iter_mut().filter(|duty| duty.pinned_to.is_some()) {
        duty.urgency = duty.urgency.saturating_add(others);
    }
}

/// A person as the reckoning of rotas wants them. What is pinned to them counts as fitting, whatever their minutes are.
#[must_use]
pub fn person(person: &AtWork, pinned: u32, minutes: u32) -> rota::Person {
    rota::Person { id: person.member.to_string(), clearance: level(person.level), minutes: minutes.max(pinned), present: person.present }
}

fn level(of: i64) -> u8 {
    u8::try_from(of).unwrap_or(u8::MAX)
}

/// The first and the second person of a duty.
pub type Hands = (Option<MemberId>, Option<MemberId>);

/// What sharing out would give.
#[derive(Debug, Clone)]
pub struct SharePlan {
    /// The reckoning's answer: bounds, and what it left.
    pub rota: rota::Rota,
    /// The duties that were shared out.
    pub duties: Vec<Duty>,
    /// Who would do each of them; those that nobody would are missing.
    pub hands: BTreeMap<DutyId, Hands>,
    /// Everybody with the day that they would have.
    pub people: Vec<AtWork>,
}

/// What sharing out changes: numbers of duties.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Changes {
    /// Those that nobody had.
    pub given: usize,
    /// Those that somebody else had.
    pub moved: usize,
    /// Those that somebody had and nobody will have.
    pub freed: usize,
}

impl std::fmt::Display for Changes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if *self == Self::default() {
            return f.write_str("Nothing changes hands.");
        }
        let freed = if self.freed > 0 { format!(", {} freed", self.freed) } else { String::new() };
        write!(f, "{} newly given, {} from other hands{freed}.", self.given, self.moved)
    }
}

impl SharePlan {
    /// Who would do a duty.
    #[must_use]
    pub fn hands(&self, duty: DutyId) -> Hands {
        self.hands.get(&duty).copied().unwrap_or_default()
    }

    /// What it changes.
    #[must_use]
    pub fn changes(&self) -> Changes {
        let mut changes = Changes::default();
        for duty in &self.duties {
            match ((duty.assigned_to, duty.second_to), self.hands(duty.id)) {
                (before, after) if before == after => {}
                ((None, _), _) => changes.given += 1,
                (_, (None, _)) => changes.freed += 1,
                _ => changes.moved += 1,
            }
        }
        changes
    }

    /// The duties that nobody would have, each with the reason.
    pub fn left(&self) -> impl Iterator<Item = (&Duty, String)> {
        let left = self.duties.iter().filter(|duty| !self.hands.contains_key(&duty.id));
        left.map(|duty| (duty, why_unassigned(duty, &self.people)))
    }
}

/// Where one duty is to go.
#[derive(Debug, Clone, Copy, Default)]
pub struct Move {
    /// Who does it; nobody frees it.
    pub to: Option<MemberId>,
    /// The second person, where it takes two.
    pub second: Option<MemberId>,
    /// Even if it is over their minutes.
    pub anyway: bool,
}
