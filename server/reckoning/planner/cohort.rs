//! The duties of a cohort, done for the whole group at once. Minutes follow the number alive.

use super::facts::{CohortFacts, PlannedDuty, SubjectKey, SubjectKind};
use super::feeding::{FeedState, cohort_feed_state};
use super::{Desk, Need, days, for_group, routine};
use crate::reckoning::calendar::{days_after, written};
use crate::reckoning::hazard::assess;
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

pub(super) fn duties(desk: &Desk<'_>, facts: &CohortFacts) -> Vec<PlannedDuty> {
    let alive = facts.alive();
    if alive == 0 {
        return Vec::new();
    }
    let subject = SubjectKey { kind: SubjectKind::Cohort, id: facts.id };
    let care = &facts.care;
    let mut needs = vec![routine(
        DutyKind::CohortCount,
        Exposure::Look,
        for_group(alive, COUNT),
        (facts.last_count, facts.started_on),
        care.count_days,
    )];
    needs.extend(feed(desk, facts));
    let minutes = clearing_minutes(facts);
    needs.extend(facts.left_in_at.map(|at| desk.clear_uneaten(at, care.uneaten_hours, minutes)));
    needs.extend(basics(desk, facts));
    desk.settle(subject, assess(&facts.hazard).band, &facts.holds, needs)
}

/// What those that have hatched need besides food.
fn basics(desk: &Desk<'_>, facts: &CohortFacts) -> Vec<Need> {
    let (hatched, care) = (facts.hatched(), &facts.care);
    if hatched == 0 {
        return Vec::new();
    }
    let open = |kind, per_hundred, last, every| {
        let minutes = group_minutes(facts, hatched, per_hundred);
        routine(kind, Exposure::Open, minutes, (last, facts.started_on), every)
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

fn feed(desk: &Desk<'_>, facts: &CohortFacts) -> Option<Need> {
    let FeedState::Due { due_on, late_after, reason } = cohort_feed_state(facts, desk.day) else {
        return None;
    };
    let minutes = group_minutes(facts, facts.feeding(), FEED);
    Some(Need { kind: DutyKind::Feed, due_on, late_after, due_at: None, exposure: Exposure::Open, minutes, reason })
}

fn moult_check(desk: &Desk<'_>, facts: &CohortFacts, hatched: u32) -> Need {
    let every = facts.care.moult_check_days;
    let close = desk.rules.close_check_spiderling_days.min(every);
    let looked = facts.last_moult_check.max(facts.last_moult);
    let started = (looked, facts.started_on);
    let minutes = for_group(hatched, MOULT_CHECK);
    let mut need = routine(DutyKind::MoultCheck, Exposure::Look, minutes, started, every);
    if let Some(moult) = facts.last_moult {
        let usual = window(moult, (facts.care.moult_min_days, facts.care.moult_max_days));
        let due_on = usual.from.max(days_after(looked.unwrap_or(facts.started_on), close));
        if due_on <= need.due_on {
            need.due_on = due_on;
            need.late_after = days_after(due_on, 1);
            need.reason =
                format!("the next moults are usual from {} to {}; look every {}", written(usual.from), written(usual.to), days(close));
        }
    }
    need
}
