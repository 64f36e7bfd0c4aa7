//! The duties of an egg sac: checks while it is with the dam and once it is pulled, taking it on the day that its pull
//! window opens, and turning it while what is inside is still eggs.

use chrono::Duration;

use super::facts::SacFacts;
use super::outlook::{Aim, Need, Steps};
use super::{Desk, Routine};
use crate::reckoning::calendar::{days_after, local_date, written};
use crate::reckoning::words::{DutyKind, Exposure};

/// Planning minutes for a check (common practice, no source).
const CHECK_MINUTES: u32 = 5;
/// Planning minutes for a turn (common practice, no source).
const TURN_MINUTES: u32 = 1;
/// Planning minutes for taking a sac from its dam (common practice, no source).
const PULL_MINUTES: u32 = 30;

pub(super) fn aims(desk: &Desk<'_>, facts: &SacFacts) -> Vec<Aim> {
    if facts.opened {
        return Vec::new();
    }
    let check = if facts.with_dam { with_dam(desk, facts) } else { pulled(desk, facts) };
    vec![check, turn(desk, facts)]
}

fn pulled(desk: &Desk<'_>, facts: &SacFacts) -> Aim {
    let every = facts.rules.unwrap_or_else(|| desk.rules.for_sacs()).pulled_days.max(1);
    let started = facts.pulled_on.unwrap_or(facts.laid_on);
    let work = Routine { exposure: Exposure::Open, minutes: CHECK_MINUTES, last: facts.last_check, started, every };
    let mut steps = desk.steps();
    let mut need = desk.routine(&work, &mut steps);
    need.reason = format!("{}: take out what has collapsed or moulded, and count it", need.reason);
    Aim::needed(DutyKind::SacCheck, need, steps)
}

/// Turned so many times a day, evenly over the hours, until legs are out; the mother turns it herself.
fn turn(desk: &Desk<'_>, facts: &SacFacts) -> Aim {
    let turns = facts.rules.unwrap_or_else(|| desk.rules.for_sacs()).turns.min(24);
    if facts.with_dam {
        return Aim::not_needed(DutyKind::SacTurn, "its mother turns it");
    }
    if facts.legs_out {
        return Aim::not_needed(DutyKind::SacTurn, "legs are out: it is turned no more");
    }
    if turns == 0 {
        return Aim::not_needed(DutyKind::SacTurn, "sacs of this species are not turned");
    }
    let mut steps = desk.steps();
    let (due_on, due_at, since) = match facts.last_turn {
        Some(last) => {
            let due_at = last.checked_add_signed(Duration::minutes(i64::from(24 * 60 / turns))).unwrap_or(last);
            let turned = local_date(desk.rules.zone, last);
            (local_date(desk.rules.zone, due_at), Some(due_at), format!("last turned on {}", written(turned)))
        }
        None => {
            let pulled = facts.pulled_on.unwrap_or(facts.laid_on);
            (pulled, None, format!("not turned yet since {}", written(pulled)))
        }
    };
    let hours = 24 / turns;
    let reason = || format!("{since}; {turns} times a day, about every {hours} hours, until legs are out");
    steps.say(|| format!("{}, so from {}", reason(), written(due_on)));
    let (exposure, minutes) = (Exposure::Open, TURN_MINUTES);
    let need = Need { due_on, late_after: due_on, due_at, exposure, minutes, reason: reason(), stopped: None };
    Aim::needed(DutyKind::SacTurn, need, steps)
}

fn with_dam(desk: &Desk<'_>, facts: &SacFacts) -> Aim {
    let every = facts.rules.unwrap_or_else(|| desk.rules.for_sacs()).with_dam_days.max(1);
    let work = Routine { exposure: Exposure::Look, minutes: CHECK_MINUTES, last: facts.last_check, started: facts.laid_on, every };
    let mut steps = desk.steps();
    let mut need = desk.routine(&work, &mut steps);
    open_window(desk, facts, &mut need, &mut steps);
    Aim::needed(DutyKind::SacCheck, need, steps)
}

/// On the first day of its pull window the check becomes the taking of the sac.
fn open_window(desk: &Desk<'_>, facts: &SacFacts, need: &mut Need, steps: &mut Steps) {
    let Some(pull) = facts.pull else { return };
    let (from, to) = (days_after(facts.laid_on, pull.from_day), days_after(facts.laid_on, pull.to_day));
    let reason = || {
        format!(
            "laid on {}; to be pulled from {} to {} (day {} to {})",
            written(facts.laid_on),
            written(from),
            written(to),
            pull.from_day,
            pull.to_day
        )
    };
    steps.say(reason);
    let looked_inside_window = facts.last_check.is_some_and(|check| check >= from);
    if !looked_inside_window && need.due_on > from {
        need.due_on = from;
    }
    if desk.day >= from {
        need.late_after = to.max(need.due_on);
        need.exposure = Exposure::HandsIn;
        need.minutes = PULL_MINUTES;
        need.reason = reason();
    }
}
