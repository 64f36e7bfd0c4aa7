//! Moving one duty to somebody, with every reason why it may not go there.

use super::assign::{require_open, reserved, set_hands, shortfall};
use super::share::at_work;
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::DutyId;
use crate::house::write::Write;
use crate::rounds::model::Duty;
use crate::rounds::model::share::{AtWork, Move, minutes, second_level};

/// Puts an open duty into other hands, or into nobody's. Gives it as it stood before.
///
/// # Errors
/// A conflict when it has ended. Mistakes, each in words: not cleared, clearance ran out or rests, not in today; the second
/// person likewise; and, unless `anyway`, that it is over their minutes.
pub async fn move_duty(write: &mut Write, id: DutyId, wanted: &Move) -> Result<Duty, AppError> {
    let duty = require_open(write, id).await?;
    let today = write.today;
    if let Some(why) = reserved(write.db(), &duty, today).await? {
        return Err(AppError::Conflict(why));
    }
    let team = at_work(write.db(), today).await?;
    let (mut mistakes, mut over) = (Mistakes::none(), Vec::new());
    let find = |id| team.iter().find(|person| Some(person.member) == id);
    let (first, second) = (find(wanted.to), find(wanted.second));
    if wanted.to.is_some() && first.is_none() {
        mistakes.add("to", "Choose somebody who looks after animals here.");
    }
    if let Some(first) = first {
        if let Some(missing) = shortfall(write.db(), first.member, &duty, today).await? {
            mistakes.add("to", missing);
        }
        check_day(&duty, first, "to", &mut mistakes, &mut over);
    }
    if wanted.second.is_some() {
        check_second(&duty, wanted, second, &mut mistakes);
    }
    if let Some(second) = second.filter(|_| wanted.second != wanted.to) {
        check_day(&duty, second, "second", &mut mistakes, &mut over);
    }
    if !wanted.anyway {
        over.iter().for_each(|warning| mistakes.add("anyway", warning));
    }
    if !mistakes.is_empty() {
        return Err(AppError::Refused(mistakes));
    }
    set_hands(write, &duty, (wanted.to, wanted.second)).await?;
    Ok(duty)
}

/// Whether somebody is in, and has the minutes. What is on hold takes none of their day yet.
fn check_day(duty: &Duty, person: &AtWork, field: &'static str, mistakes: &mut Mistakes, over: &mut Vec<String>) {
    if let Some(why) = &person.why_not {
        mistakes.add(field, format!("{} is not in today: {why}.", person.name));
        return;
    }
    let (takes, theirs) = (minutes(duty), [duty.assigned_to, duty.second_to].contains(&Some(person.member)));
    if duty.held.is_none() && !theirs && person.free() < takes {
        over.push(format!("{} takes {takes} min, and {} has {} left: {}.", duty.name(), person.name, person.free(), person.day()));
    }
}

fn check_second(duty: &Duty, wanted: &Move, second: Option<&AtWork>, mistakes: &mut Mistakes) {
    let least = second_level(duty);
    match second {
        _ if !duty.takes_two() => mistakes.add("second", "This takes one person. Leave the second one out."),
        _ if wanted.to.is_none() => mistakes.add("second", "Choose who does it before the second person."),
        _ if wanted.second == wanted.to => mistakes.add("second", "The second person must be somebody else."),
        None => mistakes.add("second", "Choose somebody who looks after animals here."),
        Some(second) if second.suspended && duty.clearance > 0 => {
            mistakes.add("second", format!("The clearances of {} rest until a lead has reviewed their incident.", second.name));
        }
        Some(second) if second.level < least => mistakes.add(
            "second",
            format!(
                "The second person of {} needs clearance {least} or more, and {} holds {}.",
                duty.name(),
                second.name,
                holds(second.level)
            ),
        ),
        Some(_) => {}
    }
}

fn holds(level: i64) -> String {
    if level == 0 { "none".to_owned() } else { format!("clearance {level}") }
}
