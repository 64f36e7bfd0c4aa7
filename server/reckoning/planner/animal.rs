//! The duties of one tagged animal.

use chrono::NaiveDate;

use super::apart::closer_check;
use super::facts::AnimalFacts;
use super::feeding::animal_feed;
use super::outlook::{Aim, Need, Steps};
use super::rehouse::{Move, course};
use super::{Desk, Routine, days};
use crate::reckoning::calendar::{days_after, local_date, written};
use crate::reckoning::condition::{Condition, Scored};
use crate::reckoning::hazard::{Band, assess};
use crate::reckoning::moult::window;
use crate::reckoning::words::{DutyKind, Exposure, LifeStage, MoultState};

/// While it lies on its back nothing else opens the lid; what fell due is shown as held.
const ON_ITS_BACK: &str = "moulting now: leave it alone until the moult is over";

pub(super) fn aims(desk: &Desk<'_>, facts: &AnimalFacts) -> Vec<Aim> {
    let band = assess(&facts.hazard).band;
    let cleaned = facts.last_clean.max(facts.rehoused_on);
    vec![
        moult_check(desk, facts),
        feed(desk, facts, band),
        clear(desk, facts),
        rehouse(desk, facts, band),
        basic(desk, facts, DutyKind::Water, (1, facts.last_water, facts.care.water_days)),
        basic(desk, facts, DutyKind::SpotClean, (2, cleaned, facts.care.clean_days)),
    ]
}

fn basic(desk: &Desk<'_>, facts: &AnimalFacts, kind: DutyKind, work: (u32, Option<NaiveDate>, u32)) -> Aim {
    let (minutes, last, every) = work;
    let mut steps = desk.steps();
    let work = Routine { exposure: Exposure::Open, minutes, last, started: facts.started_on, every };
    let mut need = desk.routine(&work, &mut steps);
    need.stopped = (facts.moult_state == MoultState::Moulting).then_some(ON_ITS_BACK);
    Aim::needed(kind, need, steps)
}

fn feed(desk: &Desk<'_>, facts: &AnimalFacts, band: Band) -> Aim {
    let mut steps = desk.steps();
    match animal_feed(facts, desk.day, &mut steps) {
        Err(reason) => Aim::waits(DutyKind::Feed, reason, steps),
        Ok(base) => Aim::needed(DutyKind::Feed, base.need(if band.level() >= 3 { 4 } else { 2 }), steps),
    }
}

fn clear(desk: &Desk<'_>, facts: &AnimalFacts) -> Aim {
    let Some(left_in_at) = facts.left_in_at else {
        return Aim::not_needed(DutyKind::ClearUneaten, "no prey is left in");
    };
    let mut steps = desk.steps();
    let mut need = desk.clear_uneaten(left_in_at, facts.care.uneaten_hours, 1);
    steps.say(|| need.reason.clone());
    if facts.moult_state == MoultState::Moulting {
        let left_on = local_date(desk.rules.zone, left_in_at);
        need.due_on = facts.moult_state_since.map_or(left_on, |since| since.max(left_on)).min(need.due_on);
        need.late_after = need.due_on;
        need.due_at = None;
        need.reason = format!("live prey is in with it while it moults: take it out at once ({})", need.reason);
        steps.say(|| need.reason.clone());
    }
    Aim::needed(DutyKind::ClearUneaten, need, steps)
}

fn rehouse(desk: &Desk<'_>, facts: &AnimalFacts, band: Band) -> Aim {
    let kind = DutyKind::Rehouse;
    let mut steps = desk.steps();
    let rules = desk.rules.for_stage(&facts.care, facts.life_stage);
    match course(facts, &rules, desk.day, &mut steps) {
        Move::NotNeeded => {
            let mut aim = Aim::not_needed(kind, "its enclosure does");
            aim.steps = steps;
            aim
        }
        Move::Barred(reason) => Aim::waits(kind, reason, steps),
        Move::Needed { due_on, late_after, reason, .. } => {
            let minutes = match (facts.life_stage, band.level()) {
                (LifeStage::Spiderling, 0..=2) => 3,
                (_, 3) => 23,
                _ => 12,
            };
            let need = Need { due_on, late_after, due_at: None, exposure: Exposure::HandsIn, minutes, reason, stopped: None };
            Aim::needed(kind, need, steps)
        }
    }
}

/// A look for signs of a moult: at the profile's interval, closer in pre-moult, inside the moult window, after refusals
/// in a row and for a shrunken abdomen, daily while moulting.
fn moult_check(desk: &Desk<'_>, facts: &AnimalFacts) -> Aim {
    let mut steps = desk.steps();
    let apart = closer_check(&facts.apart, desk.day, facts.care.moult_check_days);
    let every = apart.map_or(facts.care.moult_check_days, |(days, _)| days);
    let rules = desk.rules.for_stage(&facts.care, facts.life_stage);
    let close = rules.close_check_days.min(every);
    // Whoever found the skin has looked.
    let looked = facts.last_moult_check.max(facts.last_moult);
    let work = Routine { exposure: Exposure::Look, minutes: 1, last: looked, started: facts.started_on, every };
    let mut need = desk.routine(&work, &mut steps);
    if let Some((_, rule)) = apart {
        let due_on = need.due_on;
        desk.draw_closer(&mut need, (due_on, 1), &mut steps, || rule.words());
    }
    let checked = looked.unwrap_or(facts.started_on);
    let since = facts.moult_state_since.map_or(checked, |since| since.max(checked));
    let seen = || facts.moult_state_since.map(|day| format!(" since {}", written(day))).unwrap_or_default();
    match facts.moult_state {
        MoultState::Moulting => {
            let reason = || format!("moulting{}; look every day, do not touch", seen());
            desk.draw_closer(&mut need, (days_after(since, 1), 0), &mut steps, reason);
        }
        MoultState::PreMoult => {
            let reason = || format!("in pre-moult{}; look every {}", seen(), days(close));
            desk.draw_closer(&mut need, (days_after(since, close), 1), &mut steps, reason);
        }
        MoultState::Normal => {
            let look = Look { desk, facts, checked, close };
            look.in_window(rules.look_after_tenths, &mut need, &mut steps);
            look.after_refusals(rules.refusals_check, &mut need, &mut steps);
            look.shrunken(&mut need, &mut steps);
        }
    }
    Aim::needed(DutyKind::MoultCheck, need, steps)
}

/// What draws a look closer in an animal that shows no sign of a moult.
struct Look<'a> {
    desk: &'a Desk<'a>,
    facts: &'a AnimalFacts,
    /// When it was last looked at.
    checked: NaiveDate,
    /// Days between closer looks.
    close: u32,
}

impl Look<'_> {
    fn in_window(&self, look_after_tenths: u32, need: &mut Need, steps: &mut Steps) {
        let Self { desk, facts, checked, close } = *self;
        let Some(moult) = facts.last_moult else { return };
        let longest = facts.care.moult_max_days;
        let usual = window(moult, (facts.care.moult_min_days, longest));
        let (from, to, rests_on) = match facts.expected_moult {
            Some(expected) => (expected.from, expected.to, "to be expected (four times out of five)"),
            None => (usual.from, usual.to, "usual"),
        };
        let look_after = days_after(moult, longest.saturating_mul(look_after_tenths) / 10);
        desk.draw_closer(need, (from.max(days_after(checked, close)), 1), steps, || {
            if desk.day > look_after {
                let times = f64::from(look_after_tenths) / 10.0;
                format!("no moult since {}, more than {times} × the usual {longest} days: have a close look", written(moult))
            } else {
                format!("a moult is {rests_on} from {} to {}; look every {}", written(from), written(to), days(close))
            }
        });
    }

    fn after_refusals(&self, limit: u32, need: &mut Need, steps: &mut Steps) {
        let facts = self.facts;
        let since_moult = |day: NaiveDate| facts.last_moult.is_none_or(|moult| moult < day);
        let Some(meal) = facts.last_meal.filter(|meal| facts.refusals_in_row >= limit && since_moult(meal.day)) else { return };
        self.desk.draw_closer(need, (self.next_after(meal.day), 1), steps, || {
            format!(
                "{} meals refused in a row, the last on {}: look for pre-moult, and at the abdomen and mouth",
                facts.refusals_in_row,
                written(meal.day)
            )
        });
    }

    fn shrunken(&self, need: &mut Need, steps: &mut Steps) {
        let Some(Scored { day, .. }) = scored(self.facts).filter(|scored| scored.condition == Condition::Shrunken) else { return };
        self.desk.draw_closer(need, (self.next_after(day), 1), steps, || {
            format!("its abdomen was shrunken on {}: water first, then call a senior; look at the abdomen, legs and mouth", written(day))
        });
    }

    /// The day after something was seen, and at the closer interval once it was looked at.
    fn next_after(&self, day: NaiveDate) -> NaiveDate {
        let looked_since = self.facts.last_moult_check.is_some_and(|check| check >= day);
        if looked_since { days_after(self.checked, self.close) } else { days_after(day, 1) }
    }
}

/// Its last score, unless a moult has come since: then it is another spider.
pub(super) fn scored(facts: &AnimalFacts) -> Option<Scored> {
    facts.condition.filter(|scored| facts.last_moult.is_none_or(|moult| moult <= scored.day))
}
