//! Keeping the day planned while the house is served.

use std::time::Duration;

use super::model::Planned;
use super::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::paths;

/// How often to look whether a new local day has begun or a hold has run out.
const LOOK_EVERY: Duration = Duration::from_secs(30);

/// Plans the day when it has not been planned yet, and frees the duties whose hold has run out, for as long as the
/// house is served.
pub async fn keep_planned(app: App) {
    loop {
        if let Err(error) = plan_day_if_needed(&app).await {
            tracing::error!(?error, "the day could not be planned; the next try follows soon");
        }
        tokio::time::sleep(LOOK_EVERY).await;
    }
}

/// Plans the local day once, and frees duties whose hold has run out. Leaves no trace when there is nothing to do.
///
/// # Errors
/// The database can't be read or written.
pub async fn plan_day_if_needed(app: &App) -> Result<Planned, AppError> {
    let (today, now) = (app.today(), app.now());
    let mut db = app.read().await?;
    let new_day = store::planned_on(&mut db).await? != Some(today);
    let freed = store::released(&mut db, now).await?;
    drop(db);
    if !new_day && freed.is_empty() {
        return Ok(Planned::default());
    }
    let mut write = app.write(None).await?;
    let mut planned = Planned::default();
    if new_day {
        planned.add(store::plan_house(&mut write).await?);
    }
    for (animal, cohort) in freed {
        if let Some(animal) = animal {
            planned.add(store::replan_animal(&mut write, animal).await?);
        }
        if let Some(cohort) = cohort {
            planned.add(store::replan_cohort(&mut write, cohort).await?);
        }
    }
    if new_day || !planned.is_nothing() {
        write.commit(Change::new("day.planned", format!("day {today}"), planned.to_string()), paths::TODAY).await?;
    }
    Ok(planned)
}
