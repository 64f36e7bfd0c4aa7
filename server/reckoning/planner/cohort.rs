//! The duties of a cohort, done for the whole group at once. Minutes follow the number alive.

use super::apart::closer_check;
use super::facts::{CohortFacts, CountOff};
use super::feeding::cohort_feed;
use super::outlook::{Aim, Need};
use super::{Desk, Routine, days, for_group};
use crate::reckoning::calendar::{days_after, written};
use crate::reckoning::moult::window;
use crate::reckoning::words::{DutyKind, Exposure};

// Planning minutes for a hundred vials (middle of the usual range; common practice, no source).
const FEED: u32 = 35;
const CLEAR: u32 = 20;
const WATER: u32 = 15;
const MOULT_CHECK: u32 = 15;
const COUNT: u32 = 23;
/// A communal box is one lid to open, whatever the number inside.
const COMMUNAL_BOX_MINUTES: u32 = 5;
/// A count that differs from the book by more animals than this is done again (common practice, no source).
const OFF_ANIMALS: u32 = 3;
/// The same in percent of the book.
const OFF_PERCENT: u32 = 2;

pub(super) fn aims(desk: &Desk<'_>, facts: &CohortFacts) -> Vec<Aim> {
    let alive = facts.alive();
    if alive == 0 {
        return Vec::new();
    }
    let minutes = clearing_minutes(facts);
    let clear = match facts.left_in_at {
        Some(at) => {
            let mut steps = desk.steps();
            let need = desk.clear_uneaten(at, facts.care.uneaten_hours, minutes);
            steps.say(|| need.reason.clone());
            Aim::needed(DutyKind::ClearUneaten, need, steps)
        }
        None => Aim::not_needed(DutyKind::ClearUneaten, "no prey is left in"),
    };
    let mut aims = vec![count(desk, facts, alive), feed(desk, facts), clear];
    aims.extend(basics(desk, facts));
    aims
}

/// A count when it comes round; sooner when the last one was off by more than three or two in a hundred.
fn count(desk: &Desk<'_>, facts: &CohortFacts, alive: u32) -> Aim {
    let mut steps = desk.steps();
    let (exposure, minutes) = (Exposure::Look, for_group(alive, COUNT));
    let work = Routine { exposure, minutes, last: facts.last_count, started: facts.started_on, every: facts.care.count_days };
    let mut need = desk.routine(&work, &mut steps);
    let counted_since = |off: &CountOff| facts.last_count.is_some_and(|count| count > off.day);
    if let Some(off) = facts.count_off.filter(|off| is_off(off.by, alive) && !counted_since(off)) {
        desk.draw_closer(&mut need, (days_after(off.day, 1), 1), &mut steps, || {
            format!(
                "the count of {} was off by {}: more than {OFF_ANIMALS}, or {OFF_PERCENT} in a hundred, is counted again",
                written(off.day),
                off.by
            )
        });
    }
    Aim::needed(DutyKind::CohortCount, need, steps)
}

fn is_off(by: u32, alive: u32) -> bool {
    let book = u64::from(alive) + u64::from(by);
    by > OFF_ANIMALS || u64::from(by) * 100 > book * u64::from(OFF_PERCENT)
}

/// What those that have hatched need besides food.
fn basics(desk: &Desk<'_>, facts: &CohortFacts) -> Vec<Aim> {
    let (hatched, care) = (facts.hatched(), &facts.care);
    if hatched == 0 {
        let none = |kind| Aim::not_needed(kind, "none has hatched");
        return vec![none(DutyKind::MoultCheck), none(DutyKind::Water), none(DutyKind::SpotClean)];
    }
    let open = |kind, per_hundred, last, every| {
        let mut steps = desk.steps();
        let minutes = group_minutes(facts, hatched, per_hundred);
        let work = Routine { exposure: Exposure::Open, minutes, last, started: facts.started_on, every };
        let need = desk.routine(&work, &mut steps);
        Aim::needed(kind, need, steps)
    };
    vec![
        moult_check(desk, facts, hatched),
        open(DutyKind::Water, WATER, facts.last_water, care.water_days),
        open(DutyKind::SpotClean, CLEAR, facts.last_clean, care.clean_days),
    ]
}

/// The minutes of looking through the whole group for prey that was left.
pub(super) fn clearing_minutes(facts: &CohortFacts) -> u32 {
    group_minutes(facts, facts.alive(), CLEAR)
}

fn group_minutes(facts: &CohortFacts, count: u32, per_hundred: u32) -> u32 {
    if facts.in_vials { for_group(count, per_hundred) } else { COMMUNAL_BOX_MINUTES }
}

fn feed(desk: &Desk<'_>, facts: &CohortFacts) -> Aim {
    let mut steps = desk.steps();
    match cohort_feed(facts, desk.day, &mut steps) {
        Err(reason) => Aim::waits(DutyKind::Feed, reason, steps),
        Ok(base) => {
            let minutes = group_minutes(facts, facts.feeding(), FEED);
            Aim::needed(DutyKind::Feed, base.need(minutes), steps)
        }
    }
}

fn moult_check(desk: &Desk<'_>, facts: &CohortFacts, hatched: u32) -> Aim {
    let mut steps = desk.steps();
    let apart = closer_check(&facts.apart, desk.day, facts.care.moult_check_days);
    let every = apart.map_or(facts.care.moult_check_days, |(days, _)| days);
    let close = desk.rules.for_stage(&facts.care, facts.hazard.life_stage).close_check_days.min(every);
    let looked = facts.last_moult_check.max(facts.last_moult);
    let minutes = for_group(hatched, MOULT_CHECK);
    let work = Routine { exposure: Exposure::Look, minutes, last: looked, started: facts.started_on, every };
    let mut need: Need = desk.routine(&work, &mut steps);
    if let Some((_, rule)) = apart {
        let due_on = need.due_on;
        desk.draw_closer(&mut need, (due_on, 1), &mut steps, || rule.words());
    }
    if let Some(moult) = facts.last_moult {
        let usual = window(moult, (facts.care.moult_min_days, facts.care.moult_max_days));
        let due_on = usual.from.max(days_after(looked.unwrap_or(facts.started_on), close));
        desk.draw_closer(&mut need, (due_on, 1), &mut steps, || {
            format!("the next moults are usual from {} to {}; look every {}", written(usual.from), written(usual.to), days(close))
        });
    }
    Aim::needed(DutyKind::MoultCheck, need, steps)
}
