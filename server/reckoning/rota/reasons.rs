//! Why nobody does a duty.

use std::collections::BTreeMap;

use super::{Duty, Person, shown};
use crate::reckoning::cells::Cells;

/// The most people who are named in a reason.
const MOST_NAMED: usize = 5;

/// What reasons are made from.
pub(super) struct Reasons<'a> {
    everybody: BTreeMap<&'a str, &'a Person>,
    present: &'a [&'a Person],
    loads: &'a [u64],
    /// By clearance, how many who are in have it or a higher one.
    cleared: Vec<usize>,
    /// By clearance, the longest day of those who have it or a higher one.
    longest: Vec<u32>,
}

impl<'a> Reasons<'a> {
    pub(super) fn new(all: &[&'a Person], present: &'a [&'a Person], loads: &'a [u64]) -> Self {
        let (mut cleared, mut longest) = (vec![0; 257], vec![0; 257]);
        for person in present {
            let at = usize::from(person.clearance);
            cleared.put(at, cleared.at(at) + 1);
            longest.put(at, longest.at(at).max(person.minutes));
        }
        for at in (0..256).rev() {
            cleared.put(at, cleared.at(at) + cleared.at(at + 1));
            longest.put(at, longest.at(at).max(longest.at(at + 1)));
        }
        Self { everybody: all.iter().map(|person| (person.id.as_str(), *person)).collect(), present, loads, cleared, longest }
    }

    /// Why nobody does a duty, in one sentence.
    pub(super) fn why(&self, duty: &Duty) -> String {
        let pin = duty.pinned_to.as_deref().and_then(|pinned| self.pin(duty, pinned));
        pin.or_else(|| self.clearance(duty)).or_else(|| self.length(duty)).unwrap_or_else(|| self.full(duty))
    }

    fn pin(&self, duty: &Duty, pinned: &str) -> Option<String> {
        let name = shown(pinned);
        let Some(person) = self.everybody.get(pinned) else { return Some(format!("pinned to {name}, who is not listed")) };
        let needed = needed(duty);
        if !person.present {
            Some(format!("pinned to {name}, who is not in today"))
        } else if person.clearance < needed {
            Some(format!("pinned to {name}, who has clearance {} and would need {needed}", person.clearance))
        } else if person.minutes < duty.minutes {
            Some(format!("pinned to {name}, who has {} min today; it takes {}", person.minutes, duty.minutes))
        } else {
            None
        }
    }

    fn clearance(&self, duty: &Duty) -> Option<String> {
        let required = duty.required_clearance;
        if self.present.is_empty() {
            return Some("nobody is in today".to_owned());
        }
        if self.cleared.at(usize::from(required)) == 0 {
            return Some(format!("nobody who is in today has clearance {required}"));
        }
        let second = needed(duty);
        match self.cleared.at(usize::from(second)) {
            1 if duty.people == 2 => Some(format!("needs two people; only one with clearance {second} or higher is in today")),
            _ => None,
        }
    }

    fn length(&self, duty: &Duty) -> Option<String> {
        let longest = self.longest.at(usize::from(duty.required_clearance));
        (longest < duty.minutes).then(|| format!("takes {} min; nobody cleared for it has more than {longest} today", duty.minutes))
    }

    /// The people who could do it, with their loads; for a pinned duty for one that is the one person.
    fn full(&self, duty: &Duty) -> String {
        if duty.urgency == 0 {
            return "not urgent (0), so it gives way to a more even day".to_owned();
        }
        let second = needed(duty);
        let alone = duty.pinned_to.as_deref().filter(|_| duty.people == 1);
        let able = self
            .present
            .iter()
            .zip(self.loads)
            .filter(|(person, _)| person.clearance >= second && alone.is_none_or(|pinned| pinned == person.id));
        let named: Vec<String> =
            able.clone().take(MOST_NAMED).map(|(person, load)| format!("{} {load} of {} min", shown(&person.id), person.minutes)).collect();
        let count = if alone.is_some() { named.len() } else { self.cleared.at(usize::from(second)) };
        let more = if count > named.len() { format!(" and {} more", count - named.len()) } else { String::new() };
        let who = match (alone, duty.people) {
            (Some(_), _) => "the person it is pinned to is full",
            (None, 2) => "no two people cleared for it are free",
            (None, _) => "everybody cleared for it is full",
        };
        format!("{who}: {}{more}; it takes {}", named.join(", "), duty.minutes)
    }
}

/// The clearance that everybody who does a duty must have.
fn needed(duty: &Duty) -> u8 {
    if duty.people == 2 { duty.required_clearance.saturating_sub(1) } else { duty.required_clearance }
}
