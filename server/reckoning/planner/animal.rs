//! The duties of one tagged animal.

use chrono::NaiveDate;

use super::facts::{AnimalFacts, PlannedDuty, SubjectKey, SubjectKind};
use super::feeding::{FeedState, feed_state};
use super::rehouse::{RehouseState, rehouse_state};
use super::{Desk, Need, days, routine};
use crate::reckoning::calendar::{days_after, local_date, written};
use crate::reckoning::hazard::{Band, assess};
use crate::reckoning::moult::window;
use crate::reckoning::words::{DutyKind, Exposure, LifeStage, MoultState};

pub(super) fn duties(desk: &Desk<'_>, facts: &AnimalFacts) -> Vec<PlannedDuty> {
    let subject = SubjectKey { kind: SubjectKind::Animal, id: facts.id };
    let band = assess(&facts.hazard).band;
    let mut needs = vec![moult_check(desk, facts)];
    needs.extend(feed(desk, facts, band));
    needs.extend(clear(desk, facts));
    needs.extend(rehouse(desk, facts, band));
    // While it lies on its back nothing else opens the lid; what fell due is shown as held.
    let care = &facts.care;
    let basics = vec![
        routine(DutyKind::Water, Exposure::Open, 1, (facts.last_water, facts.started_on), care.water_days),
        routine(DutyKind::SpotClean, Exposure::Open, 2, (facts.last_clean.max(facts.rehoused_on), facts.started_on), care.clean_days),
    ];
    let mut planned = desk.settle(subject, band, &facts.holds, needs);
    let mut basics = desk.settle(subject, band, &facts.holds, basics);
    if facts.moult_state == MoultState::Moulting {
        for duty in &mut basics {
            duty.held = Some("moulting now: leave it alone until the moult is over".to_owned());
        }
    }
    planned.append(&mut basics);
    planned
}

fn feed(desk: &Desk<'_>, facts: &AnimalFacts, band: Band) -> Option<Need> {
    let FeedState::Due { due_on, late_after, reason } = feed_state(facts, desk.day) else {
        return None;
    };
    let minutes = if band.level() >= 3 { 4 } else { 2 };
    Some(Need { kind: DutyKind::Feed, due_on, late_after, due_at: None, exposure: Exposure::Open, minutes, reason })
}

fn clear(desk: &Desk<'_>, facts: &AnimalFacts) -> Option<Need> {
    let left_in_at = facts.left_in_at?;
    let mut need = desk.clear_uneaten(left_in_at, facts.care.uneaten_hours, 1);
    if facts.moult_state == MoultState::Moulting {
        let left_on = local_date(desk.rules.zone, left_in_at);
        need.due_on = facts.moult_state_since.map_or(left_on, |since| since.max(left_on)).min(need.due_on);
        need.late_after = need.due_on;
        need.due_at = None;
        need.reason = format!("live prey is in with it while it moults: take it out at once ({})", need.reason);
    }
    Some(need)
}

fn rehouse(desk: &Desk<'_>, facts: &AnimalFacts, band: Band) -> Option<Need> {
    let state = rehouse_state(facts, desk.rules, desk.day);
    let RehouseState::Due { due_on, late_after, reason } = state else {
        return None;
    };
    let minutes = match (facts.life_stage, band.level()) {
        (LifeStage::Spiderling, 0..=2) => 3,
        (_, 3) => 23,
        _ => 12,
    };
    let exposure = Exposure::HandsIn;
    Some(Need { kind: DutyKind::Rehouse, due_on, late_after, due_at: None, exposure, minutes, reason })
}

/// A look for signs of a moult: at the profile's interval, closer in pre-moult, inside the moult window and after
/// refusals in a row, daily while moulting.
fn moult_check(desk: &Desk<'_>, facts: &AnimalFacts) -> Need {
    let (rules, every) = (desk.rules, facts.care.moult_check_days);
    let close = match facts.life_stage {
        LifeStage::Spiderling => rules.close_check_spiderling_days,
        LifeStage::Juvenile | LifeStage::Adult => rules.close_check_other_days,
    }
    .min(every);
    // Whoever found the skin has looked.
    let looked = facts.last_moult_check.max(facts.last_moult);
    let started = (looked, facts.started_on);
    let mut need = routine(DutyKind::MoultCheck, Exposure::Look, 1, started, every);
    let checked = looked.unwrap_or(facts.started_on);
    let since = facts.moult_state_since.map_or(checked, |since| since.max(checked));
    let seen = facts.moult_state_since.map(|day| format!(" since {}", written(day))).unwrap_or_default();
    match facts.moult_state {
        MoultState::Moulting => {
            draw_closer(&mut need, days_after(since, 1), 0, format!("moulting{seen}; look every day, do not touch"));
        }
        MoultState::PreMoult => {
            let reason = format!("in pre-moult{seen}; look every {}", days(close));
            draw_closer(&mut need, days_after(since, close), 1, reason);
        }
        MoultState::Normal => {
            if let Some((due_on, reason)) = in_window(desk.day, facts, checked, close) {
                draw_closer(&mut need, due_on, 1, reason);
            }
            if let Some((due_on, reason)) = after_refusals(desk, facts, checked, close) {
                draw_closer(&mut need, due_on, 1, reason);
            }
        }
    }
    need
}

fn draw_closer(need: &mut Need, due_on: NaiveDate, grace_days: u32, reason: String) {
    if due_on <= need.due_on {
        need.due_on = due_on;
        need.late_after = days_after(due_on, grace_days);
        need.reason = reason;
    }
}

fn in_window(day: NaiveDate, facts: &AnimalFacts, checked: NaiveDate, close: u32) -> Option<(NaiveDate, String)> {
    let moult = facts.last_moult?;
    let usual = window(moult, (facts.care.moult_min_days, facts.care.moult_max_days));
    let (from, to, rests_on) = match facts.expected_moult {
        Some(expected) => (expected.from, expected.to, "to be expected (four times out of five)"),
        None => (usual.from, usual.to, "usual"),
    };
    let reason = if day > usual.look_after {
        format!("no moult since {}, more than 1.5 × the usual {} days: have a close look", written(moult), facts.care.moult_max_days)
    } else {
        format!("a moult is {rests_on} from {} to {}; look every {}", written(from), written(to), days(close))
    };
    Some((from.max(days_after(checked, close)), reason))
}

fn after_refusals(desk: &Desk<'_>, facts: &AnimalFacts, checked: NaiveDate, close: u32) -> Option<(NaiveDate, String)> {
    let limit = match facts.life_stage {
        LifeStage::Spiderling => desk.rules.refusals_spiderling,
        LifeStage::Juvenile => desk.rules.refusals_juvenile,
        LifeStage::Adult => desk.rules.refusals_adult,
    };
    let meal =
        facts.last_meal.filter(|_| facts.refusals_in_row >= limit).filter(|meal| facts.last_moult.is_none_or(|moult| moult < meal.day))?;
    let looked_since = facts.last_moult_check.is_some_and(|check| check >= meal.day);
    let due_on = if looked_since { days_after(checked, close) } else { days_after(meal.day, 1) };
    let reason = format!(
        "{} meals refused in a row, the last on {}: look for pre-moult, and at the abdomen and mouth",
        facts.refusals_in_row,
        written(meal.day)
    );
    Some((due_on, reason))
}
