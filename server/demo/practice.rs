//! What the made-up house has practised, planned and broken off.

use chrono::NaiveDate;

use super::Building;
use crate::handling::model::week::Moment;
use crate::handling::model::{AssessmentOutcome, NewAssessment, NewPlan, RehouseDuty};
use crate::handling::store;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::MemberId;
use crate::reckoning::together::Span;
use crate::rounds::model::{NewSignoff, Outcome};
use crate::{handling, rounds};

/// Somebody passes the supervised rehouses that a level takes, and reads the text on safe work.
pub(super) async fn towards(building: &Building, assessor: MemberId, member: MemberId, level: i64) -> Result<(), AppError> {
    let needed = store::practice_rules(&mut *building.app.read().await?).await?.into_iter().find(|rule| rule.level == level);
    for _ in 0..needed.map_or(0, |rule| rule.passes) {
        assess(building, (assessor, member), level, AssessmentOutcome::Passed, building.day, "Calm hands, lid first.").await?;
    }
    read(building, member).await
}

/// Somebody confirms reading the text on safe work.
pub(super) async fn read(building: &Building, member: MemberId) -> Result<(), AppError> {
    let mut write = building.app.write(Some(member)).await?;
    let version = store::safe_work_text(write.db()).await?.version;
    store::confirm_read(&mut write, version).await?;
    write.commit(Change::new("safe-work.read", format!("safe work {version}"), ""), "/handling/safe-work").await
}

async fn assess(
    building: &Building,
    (assessor, member): (MemberId, MemberId),
    band: i64,
    outcome: AssessmentOutcome,
    day: NaiveDate,
    note: &str,
) -> Result<(), AppError> {
    let mut write = building.app.write(Some(assessor)).await?;
    let new = NewAssessment { member, assessor, band, outcome, day, note: note.to_owned(), signoff: None };
    let id = store::record_assessment(&mut write, &new).await?;
    write.commit(Change::new("assessment.recorded", format!("assessment {id}"), outcome.label()), "/handling").await
}

/// On the last day: the trainee is half way to the next clearance, the house adds a line to the list, one rehouse was broken
/// off and the next ones are planned.
pub(super) async fn open_today(building: &Building) -> Result<(), AppError> {
    let (tamsin, joss, perrin) = (building.named("tamsin"), building.named("joss"), building.named("perrin"));
    let days = |back| building.day.checked_sub_days(chrono::Days::new(back)).unwrap_or(building.day);
    let (passed, more) = (AssessmentOutcome::Passed, AssessmentOutcome::MorePractice);
    assess(building, (joss, perrin), 2, more, days(19), "Quick, but the catch cup stood out of reach.").await?;
    assess(building, (tamsin, perrin), 2, passed, days(6), "A fast burrower, tub in tub; closed the lid at the first threat.").await?;
    let mut write = building.app.write(Some(tamsin)).await?;
    let id = store::add_checklist_line(&mut write, "radio off, phone on silent", 3).await?;
    write.commit(Change::new("checklist.line added", format!("checklist line {id}"), "radio off"), "/handling/checklist").await?;
    let mut due = store::rehouse_board(&mut *building.app.read().await?).await?;
    due.retain(|duty| duty.held.is_none());
    if let Some(duty) = (due.len() > 2).then(|| due.pop()).flatten() {
        break_off(building, joss, &duty).await?;
    }
    for duty in due.iter().take(2) {
        plan(building, tamsin, duty).await?;
    }
    Ok(())
}

async fn break_off(building: &Building, who: MemberId, duty: &RehouseDuty) -> Result<(), AppError> {
    let mut write = building.app.write(Some(who)).await?;
    let new = NewSignoff { note: "up on the glass, would not settle".to_owned(), ..NewSignoff::plain(duty.id, Outcome::Aborted) };
    let signed = rounds::store::sign_off(&mut write, &new).await?;
    write.commit(Change::new("duty.signed", format!("duty {}", signed.duty.id), signed.words()), "/round").await
}

/// Plans a rehouse for the second time at which it could be done, so that they do not all fall on the next hour.
async fn plan(building: &Building, who: MemberId, duty: &RehouseDuty) -> Result<(), AppError> {
    let mut write = building.app.write(Some(who)).await?;
    let now = Moment::of(&write);
    let week = handling::store::week_ahead(write.db(), now).await?;
    let days = week.times(duty, &[]);
    let Some((day, time)) = days.get(1).or(days.first()).and_then(|day| Some((day.day, day.times.first()?.clone()))) else { return Ok(()) };
    let from = time.span.from.max(600).min(time.span.to.saturating_sub(duty.minutes()));
    let span = Span { from, to: from + duty.minutes() };
    let new = NewPlan { first: time.first.0, second: time.second.map(|(id, _)| id), day, span };
    match store::plan_rehouse(&mut write, duty.id, &new).await {
        Ok(duty) => {
            let change = Change::new("rehouse.planned", format!("duty {}", duty.id), duty.tag);
            write.commit(change, "/handling/board").await
        }
        // Reserved meanwhile for the other one: it stays for whoever tries the demo.
        Err(AppError::Refused(_)) => Ok(()),
        Err(other) => Err(other),
    }
}
