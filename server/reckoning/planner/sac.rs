//! The duties of an egg sac: daily once pulled, weekly with the dam, and on the day that its pull window opens.

use super::facts::{PlannedDuty, SacFacts, SubjectKey, SubjectKind};
use super::{Desk, Need, routine};
use crate::reckoning::calendar::{days_after, written};
use crate::reckoning::hazard::{Band, assess};
use crate::reckoning::words::{DutyKind, Exposure};

/// Planning minutes for a check (common practice, no source).
const CHECK_MINUTES: u32 = 5;
/// Planning minutes for taking a sac from its dam (common practice, no source).
const PULL_MINUTES: u32 = 30;

pub(super) fn duties(desk: &Desk<'_>, facts: &SacFacts) -> Vec<PlannedDuty> {
    if facts.opened {
        return Vec::new();
    }
    let subject = SubjectKey { kind: SubjectKind::Sac, id: facts.id };
    if facts.with_dam {
        return desk.settle(subject, assess(&facts.hazard).band, &[], vec![with_dam(desk, facts)]);
    }
    // Eggs neither bite nor shed setae: a pulled sac is band 0.
    let since = (facts.last_check, facts.pulled_on.unwrap_or(facts.laid_on));
    let mut need = routine(DutyKind::SacCheck, Exposure::Open, CHECK_MINUTES, since, 1);
    need.reason = format!("{}: take out what has collapsed or moulded, and count it", need.reason);
    desk.settle(subject, Band::NONE, &[], vec![need])
}

fn with_dam(desk: &Desk<'_>, facts: &SacFacts) -> Need {
    let since = (facts.last_check, facts.laid_on);
    let mut need = routine(DutyKind::SacCheck, Exposure::Look, CHECK_MINUTES, since, desk.rules.sac_with_dam_days);
    let Some(pull) = facts.pull else { return need };
    let (from, to) = (days_after(facts.laid_on, pull.from_day), days_after(facts.laid_on, pull.to_day));
    let looked_inside_window = facts.last_check.is_some_and(|check| check >= from);
    if !looked_inside_window && need.due_on > from {
        need.due_on = from;
    }
    if desk.day >= from {
        need.late_after = to.max(need.due_on);
        need.exposure = Exposure::HandsIn;
        need.minutes = PULL_MINUTES;
        need.reason = format!(
            "laid on {}; to be pulled from {} to {} (day {} to {})",
            written(facts.laid_on),
            written(from),
            written(to),
            pull.from_day,
            pull.to_day
        );
    }
    need
}
