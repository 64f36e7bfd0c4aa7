//! How long buyers are kept: the house's rule, holds against it, and whom it erases when.

use chrono::{NaiveDate, TimeDelta};
use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::BuyerId;
use crate::house::write::Write;
use crate::sales::model::{Coming, Dealing, Rule};

/// The rule as it stands.
///
/// # Errors
/// The database can't be read.
pub async fn rule(db: &mut SqliteConnection) -> Result<Rule, AppError> {
    let (months, since) = sqlx::query_as("SELECT buyer_months, buyer_months_from FROM site WHERE id = 1").fetch_one(db).await?;
    Ok(Rule { months, since })
}

/// Changes the rule; it holds from today.
///
/// # Errors
/// A conflict when somebody else changed the settings since `version` was read.
pub async fn change_rule(write: &mut Write, months: u32, version: i64) -> Result<(), AppError> {
    let today = write.today;
    let changed =
        sqlx::query("UPDATE site SET buyer_months = ?, buyer_months_from = ?, version = version + 1 WHERE id = 1 AND version = ?")
            .bind(months)
            .bind(today)
            .bind(version)
            .execute(write.db())
            .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("Somebody else changed the settings meanwhile. Open the page again and look first."));
    }
    Ok(())
}

/// Lets the rule begin to hold today, where nobody has looked at it yet.
///
/// # Errors
/// The database can't be written.
pub async fn begin_rule(write: &mut Write) -> Result<(), AppError> {
    let today = write.today;
    sqlx::query("UPDATE site SET buyer_months_from = ? WHERE id = 1 AND buyer_months_from IS NULL").bind(today).execute(write.db()).await?;
    Ok(())
}

/// Keeps a buyer up to and with a day, whatever the rule says; none: as the rule says again.
///
/// # Errors
/// A conflict when somebody else changed them since `version` was read, or when they were erased.
pub async fn keep_buyer(write: &mut Write, id: BuyerId, version: i64, hold: Option<(NaiveDate, &str)>) -> Result<(), AppError> {
    let changed = sqlx::query("UPDATE buyer SET kept_until = ?, kept_reason = ?, version = version + 1 WHERE id = ? AND version = ?")
        .bind(hold.map(|(until, _)| until))
        .bind(hold.map_or("", |(_, reason)| reason))
        .bind(id)
        .bind(version)
        .execute(write.db())
        .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("Somebody changed this buyer since you opened the page. Open it again and look first."));
    }
    Ok(())
}

/// The buyers who were not erased with the day of their last dealing: being entered, a handover, an order, a reservation, a paper, or
/// a step of a recall.
async fn dealings(db: &mut SqliteConnection) -> Result<Vec<Dealing>, AppError> {
    Ok(sqlx::query_as(
        "SELECT buyer.id, buyer.name, buyer.kept_until,
                MAX(substr(buyer.created_at, 1, 10),
                    COALESCE((SELECT MAX(COALESCE(day, substr(created_at, 1, 10))) FROM handover WHERE buyer_id = buyer.id), ''),
                    COALESCE((SELECT MAX(COALESCE(substr(ended_at, 1, 10), substr(created_at, 1, 10))) FROM sale_order
                              WHERE buyer_id = buyer.id), ''),
                    COALESCE((SELECT MAX(COALESCE(substr(ended_at, 1, 10), until)) FROM reservation WHERE buyer_id = buyer.id), ''),
                    COALESCE((SELECT MAX(issued_on) FROM paper WHERE buyer_id = buyer.id), ''),
                    COALESCE((SELECT MAX(day) FROM recall_contact WHERE buyer_id = buyer.id), '')) AS last_on,
                EXISTS (SELECT 1 FROM sale_order WHERE buyer_id = buyer.id AND state = 'open')
                OR EXISTS (SELECT 1 FROM handover WHERE buyer_id = buyer.id AND state = 'draft') AS busy
         FROM buyer WHERE buyer.erased_at IS NULL ORDER BY buyer.id",
    )
    .fetch_all(db)
    .await?)
}

/// The day of a buyer's last dealing.
///
/// # Errors
/// [`AppError::NotFound`] when there is none, or they were erased.
pub async fn last_dealing(db: &mut SqliteConnection, id: BuyerId) -> Result<NaiveDate, AppError> {
    let all = dealings(db).await?;
    all.into_iter().find(|dealing| dealing.id == id).map(|dealing| dealing.last_on).ok_or(AppError::NotFound)
}

/// Whom the rule erases up to a day, the soonest first, those too for whom something puts it off.
///
/// # Errors
/// The database can't be read.
pub async fn erased_by(db: &mut SqliteConnection, day: NaiveDate) -> Result<Vec<Coming>, AppError> {
    let rule = rule(db).await?;
    let all = dealings(db).await?.into_iter();
    let mut coming: Vec<Coming> =
        all.filter_map(|dealing| Some(Coming { on: rule.erases_on(dealing.last_on).filter(|on| *on <= day)?, dealing })).collect();
    coming.sort_by_key(|coming| (coming.on, coming.dealing.id));
    Ok(coming)
}

/// Whom the rule erases today: the day has come, no hold stands today and nothing is unfinished.
///
/// # Errors
/// The database can't be read.
pub async fn due(db: &mut SqliteConnection, today: NaiveDate) -> Result<Vec<BuyerId>, AppError> {
    let held = |coming: &Coming| coming.dealing.busy || coming.dealing.kept_until.is_some_and(|until| until >= today);
    Ok(erased_by(db, today).await?.into_iter().filter(|coming| !held(coming)).map(|coming| coming.dealing.id).collect())
}

/// Whom the rule erases within so many days.
///
/// # Errors
/// The database can't be read.
pub async fn coming(db: &mut SqliteConnection, today: NaiveDate, days: i64) -> Result<Vec<Coming>, AppError> {
    erased_by(db, today + TimeDelta::days(days)).await
}
