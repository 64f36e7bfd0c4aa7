//! The climate of a room that holds stock, read once a day or as often as the house says.

use chrono::Days;

use super::facts::RoomFacts;
use super::outlook::Aim;
use super::{Desk, Routine};
use crate::reckoning::words::{DutyKind, Exposure};

/// Planning minutes for each rack's thermometer and hygrometer (common practice, no source).
const MINUTES_A_RACK: u32 = 1;

pub(super) fn reading(desk: &Desk<'_>, facts: &RoomFacts) -> Aim {
    if facts.racks == 0 {
        return Aim::not_needed(DutyKind::RoomReading, "no stock stands in it");
    }
    let mut steps = desk.steps();
    let every = desk.rules.room_reading_days.max(1);
    // Without any reading the first is due at once, not after the interval.
    let started = facts.since.checked_sub_days(Days::new(every.into())).unwrap_or(facts.since);
    let minutes = facts.racks.saturating_mul(MINUTES_A_RACK);
    let work = Routine { exposure: Exposure::Look, minutes, last: facts.last_reading, started, every };
    let mut need = desk.routine(&work, &mut steps);
    if facts.last_reading.is_none() {
        need.reason = "no temperature or humidity on record yet".to_owned();
    }
    need.late_after = need.due_on;
    Aim::needed(DutyKind::RoomReading, need, steps)
}
