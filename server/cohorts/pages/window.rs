//! When most of a cohort are to be expected to moult.

use chrono::NaiveDate;
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::animals;
use crate::cohorts::model::Cohort;
use crate::house::errors::AppError;
use crate::house::text;
use crate::reckoning::ledger::{Line, Stage, middle_day};
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
    let Ok(window) = kind.window(since, today) else { return Ok(None) };
    let [from, likely, to] = [window.from, window.likely, window.to].map(|day| text::day(&day));
    let (least, most) = kind.usual;
    let learnt = text::count(&i64::try_from(kind.house).unwrap_or(i64::MAX), "interval", "intervals");
    Ok(Some(format!(
        "Most ({count}) are in {stage}, half of them since about {}. Each is to be expected to moult from {from} to {to} (four out of five), \
         most likely about {likely}: from {learnt} of the species as a {life_stage} here, and the usual {least} to {most} days.",
        text::day(&since)
    )))
}
