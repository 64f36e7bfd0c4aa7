//! What follows from a sign-off for a cohort, whose spiderlings are fed, looked over and counted together.

use std::collections::BTreeMap;

use crate::cohorts::model::{NewCohortMeal, NewLine};
use crate::cohorts::store;
use crate::house::errors::AppError;
use crate::house::ids::{CohortId, SignoffId};
use crate::house::write::Write;
use crate::reckoning::ledger::{self, LineKind};
use crate::reckoning::planner::{SubjectKey, SubjectKind};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{DutyKind, MealOutcome};
use crate::rounds::model::{Detail, Duty, Group, NewSignoff, Outcome};

/// Writes what a sign-off brings to a cohort.
///
/// # Errors
/// Figures that do not add up to what is alive.
pub(super) async fn apply(write: &mut Write, duty: &Duty, cohort: CohortId, new: &NewSignoff, id: SignoffId) -> Result<(), AppError> {
    match (new.outcome, &new.detail) {
        (Outcome::FoundDead, Detail::Group(group)) if !group.dead.is_empty() => report(write, cohort, group, id).await,
        (Outcome::FoundDead, _) => Err(AppError::refused("dead", "Say how many were dead, and at which stage.")),
        (Outcome::Counts, Detail::Count(counted)) if duty.kind == DutyKind::CohortCount => recount(write, cohort, counted, id).await,
        (Outcome::Counts, Detail::Group(group)) if duty.kind != DutyKind::CohortCount => {
            if duty.kind == DutyKind::Feed {
                feed(write, cohort, group, id).await?;
            }
            report(write, cohort, group, id).await
        }
        (Outcome::Counts, _) => Err(AppError::refused("outcome", "Enter the figures on the duty's own page.")),
        (outcome, detail) => match outcome.meal() {
            Some(meal) if duty.kind == DutyKind::ClearUneaten => clear(write, cohort, meal, id).await,
            Some(meal) => feed_all(write, cohort, meal, detail, id).await,
            None => Ok(()),
        },
    }
}

/// The whole group alike: every one that takes prey.
async fn feed_all(write: &mut Write, cohort: CohortId, outcome: MealOutcome, detail: &Detail, id: SignoffId) -> Result<(), AppError> {
    let standing = store::standing(write.db(), cohort).await?;
    let feeding: i64 = standing.iter().filter(|count| count.stage.feeds()).map(|count| count.quantity).sum();
    let all = u32::try_from(feeding).unwrap_or(0);
    let of = |wanted| if outcome == wanted { all } else { 0 };
    let (from_stock, prey) = detail.offered();
    let (took, refused, left_in) = (of(MealOutcome::Took), of(MealOutcome::Refused), of(MealOutcome::LeftIn));
    feed(write, cohort, &Group { prey, from_stock, took, refused, left_in, ..Group::default() }, id).await
}

async fn feed(write: &mut Write, cohort: CohortId, group: &Group, id: SignoffId) -> Result<(), AppError> {
    let told = [group.took, group.refused, group.left_in].iter().map(|count| i64::from(*count)).sum::<i64>();
    let dead: i64 = group.dead.iter().map(|(_, count, _)| i64::from(*count)).sum();
    let alive = store::alive(write.db(), cohort).await?;
    if told == 0 {
        return Err(AppError::refused("took", "Say how many took it, refused it, or had it left in."));
    }
    if told + dead > alive {
        return Err(AppError::refused("took", format!("{alive} are alive, but the figures add up to {}. Count again.", told + dead)));
    }
    let day = write.made_on;
    let meal = NewCohortMeal {
        day,
        prey: group.prey.clone(),
        took: group.took,
        refused: group.refused,
        left_in: group.left_in,
        signoff: Some(id),
    };
    let subject = SubjectKey { kind: SubjectKind::Cohort, id: cohort.0 };
    let offer = super::effects::offer(write, subject, group.from_stock).await?;
    store::record_meal_from(write, cohort, &meal, offer).await
}

/// Every vial alike: eaten meanwhile, or taken out.
async fn clear(write: &mut Write, cohort: CohortId, outcome: MealOutcome, id: SignoffId) -> Result<(), AppError> {
    let left_in: u32 = sqlx::query_scalar(
        "SELECT left_in FROM cohort_meal_standing WHERE cohort_id = ? AND left_in > 0 ORDER BY day DESC, id DESC LIMIT 1",
    )
    .bind(cohort)
    .fetch_optional(write.db())
    .await?
    .unwrap_or(0);
    let took = if outcome == MealOutcome::Took { left_in } else { 0 };
    store::clear_left_in(write, cohort, took, left_in - took, Some(id)).await
}

/// Deaths first, so that nothing that died moults on.
async fn report(write: &mut Write, cohort: CohortId, group: &Group, id: SignoffId) -> Result<(), AppError> {
    let day = write.made_on;
    for (stage, quantity, cause) in &group.dead {
        let line = NewLine::lost(day, *stage, *quantity, *cause).by_signoff(Some(id));
        store::post(write, cohort, &line).await.map_err(|error| at_field("dead", error))?;
    }
    for (stage, quantity) in &group.moulted {
        let Some(next) = stage.next() else {
            return Err(AppError::refused("moulted", format!("The book counts no stage after the {stage}.")));
        };
        let line = NewLine::moulted(day, *stage, next, *quantity).by_signoff(Some(id));
        store::post(write, cohort, &line).await.map_err(|error| at_field("moulted", error))?;
    }
    Ok(())
}

fn at_field(field: &'static str, error: AppError) -> AppError {
    match error {
        AppError::Refused(mistakes) => {
            AppError::refused(field, mistakes.all().map(|mistake| mistake.message.as_str()).collect::<Vec<_>>().join(" "))
        }
        other => other,
    }
}

async fn recount(write: &mut Write, cohort: CohortId, counted: &BTreeMap<Stage, u32>, id: SignoffId) -> Result<(), AppError> {
    let day = write.made_on;
    let book = store::balance_on(write.db(), cohort, day).await?;
    for movement in ledger::recount(&book, counted) {
        let line = NewLine {
            day,
            kind: LineKind::Recounted,
            from: movement.from,
            to: movement.to,
            quantity: movement.quantity,
            cause: None,
            signoff: Some(id),
            note: "counted on the round".to_owned(),
        };
        store::post(write, cohort, &line).await?;
    }
    Ok(())
}
