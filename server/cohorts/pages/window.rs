//! When most of a cohort are to be expected to moult.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::animals;
use crate::cohorts::model::Cohort;
use crate::house::errors::AppError;
use crate::house::text;
use crate::reckoning::calendar::{days_after, days_between};
use crate::reckoning::ledger::{Bucket, Line, LineKind, Stage, standing};
use crate::reckoning::words::LifeStage;

/// The window of the next moult of those at the stage at which most stand, in a sentence; nothing before the second instar
/// (the sac's page has the days of those), and nothing when it isn't known when they came to it.
pub(super) async fn told(
    db: &mut SqliteConnection,
    cohort: &Cohort,
    lines: &[Line],
    stages: &[(Stage, u32)],
    (life_stage, today, zone): (LifeStage, NaiveDate, Tz),
) -> Result<Option<String>, AppError> {
    let Some((stage, count)) = stages.iter().max_by_key(|(_, count)| *count).filter(|(stage, _)| stage.feeds()) else { return Ok(None) };
    let Some(since) = middle_day(lines, *stage) else { return Ok(None) };
    let book = animals::store::moult_book(db, Some(cohort.species_id), zone).await?;
    let Some(kind) = book.species(cohort.species_id).and_then(|species| species.learned.kind(life_stage, today)) else { return Ok(None) };
    // A cohort's days are few enough for any number.
    let Ok(forecast) = kind.belief.forecast(days_between(since, today).max(0) as f64) else { return Ok(None) };
    let on = |days: f64| text::day(&days_after(since, days.max(0.0) as u32));
    let window = &forecast.conditional;
    let (from, likely, to) = (on(window.p10_days.floor()), on(window.median_days.round()), on(window.p90_days.ceil()));
    let (least, most) = kind.usual;
    let learnt = text::count(&i64::try_from(kind.house).unwrap_or(i64::MAX), "interval", "intervals");
    Ok(Some(format!(
        "Most ({count}) are in {stage}, half of them since about {}. Each is to be expected to moult from {from} to {to} (four out of five), \
         most likely about {likely}: from {learnt} of the species as a {life_stage} here, and the usual {least} to {most} days.",
        text::day(&since)
    )))
}

/// The day by which half of those that came to a stage had come.
fn middle_day(lines: &[Line], stage: Stage) -> Option<NaiveDate> {
    let mut came: BTreeMap<NaiveDate, u64> = BTreeMap::new();
    for line in standing(lines) {
        if line.to == Bucket::Stage(stage) && matches!(line.kind, LineKind::Moulted) {
            *came.entry(line.day).or_insert(0) += u64::from(line.quantity);
        }
    }
    let all: u64 = came.values().sum();
    let mut so_far = 0;
    came.into_iter().find_map(|(day, count)| {
        so_far += count;
        (so_far * 2 >= all).then_some(day)
    })
}
