//! Kinds and sizes of prey, the rules of length, and how the house orders.

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::PreyKindId;
use crate::house::write::Write;
use crate::reckoning::prey::{Policy, PreyRule, SizeClass};
use crate::rounds::model::prey::{NewPreyKind, PreyKind};

/// Every kind, by name and length; those that the house does not use come last.
///
/// # Errors
/// The database can't be read.
pub async fn kinds(db: &mut SqliteConnection) -> Result<Vec<PreyKind>, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, name, size, length_mm, per_pack, staple, active, version FROM prey_kind ORDER BY active DESC, name, length_mm, id",
    )
    .fetch_all(db)
    .await?)
}

/// One kind.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_kind(db: &mut SqliteConnection, id: PreyKindId) -> Result<PreyKind, AppError> {
    Ok(sqlx::query_as("SELECT id, name, size, length_mm, per_pack, staple, active, version FROM prey_kind WHERE id = ?")
        .bind(id)
        .fetch_one(db)
        .await?)
}

/// Adds a kind.
///
/// # Errors
/// A name and size that are there already.
pub async fn add_kind(write: &mut Write, new: &NewPreyKind) -> Result<PreyKindId, AppError> {
    taken(write, new, PreyKindId(0)).await?;
    Ok(sqlx::query_scalar("INSERT INTO prey_kind (name, size, length_mm, per_pack, staple, active) VALUES (?, ?, ?, ?, ?, ?) RETURNING id")
        .bind(&new.name)
        .bind(&new.size)
        .bind(new.length_mm)
        .bind(new.per_pack)
        .bind(new.staple)
        .bind(new.active)
        .fetch_one(write.db())
        .await?)
}

async fn taken(write: &mut Write, new: &NewPreyKind, but: PreyKindId) -> Result<(), AppError> {
    let there: bool = sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM prey_kind WHERE name = ? AND size = ? AND id <> ?)")
        .bind(&new.name)
        .bind(&new.size)
        .bind(but)
        .fetch_one(write.db())
        .await?;
    if there { Err(AppError::refused("size", format!("{}, {} is on the list already.", new.name, new.size))) } else { Ok(()) }
}

/// Changes a kind.
///
/// # Errors
/// A conflict when somebody changed it meanwhile; a name and size that are there already.
pub async fn change_kind(write: &mut Write, id: PreyKindId, version: i64, new: &NewPreyKind) -> Result<(), AppError> {
    taken(write, new, id).await?;
    let changed = sqlx::query(
        "UPDATE prey_kind SET name = ?, size = ?, length_mm = ?, per_pack = ?, staple = ?, active = ?, version = version + 1
         WHERE id = ? AND version = ?",
    )
    .bind(&new.name)
    .bind(&new.size)
    .bind(new.length_mm)
    .bind(new.per_pack)
    .bind(new.staple)
    .bind(new.active)
    .bind(id)
    .bind(version)
    .execute(write.db())
    .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("Somebody changed this kind of prey meanwhile. Open the page again and enter the change there."));
    }
    Ok(())
}

/// Kinds in generic words with their usual lengths and packs (common practice, no source): name, size, mm, a pack, staple.
const USUAL: [(&str, &str, u32, u32, bool); 11] = [
    ("springtail", "one size", 1, 500, false),
    ("fruit fly", "flightless", 3, 200, true),
    ("cricket", "tiny", 2, 500, true),
    ("cricket", "small", 6, 250, true),
    ("cricket", "medium", 12, 100, true),
    ("cricket", "large", 22, 50, true),
    ("cockroach", "small", 9, 100, true),
    ("cockroach", "medium", 18, 50, true),
    ("cockroach", "large", 30, 25, true),
    ("locust", "large", 45, 20, false),
    ("mealworm", "one size", 25, 200, false),
];

/// Adds the usual kinds that are not on the list. Gives how many were added.
///
/// # Errors
/// The database can't be written.
pub async fn add_usual_kinds(write: &mut Write) -> Result<u64, AppError> {
    let mut added = 0;
    for (name, size, length_mm, per_pack, staple) in USUAL {
        let row =
            sqlx::query("INSERT INTO prey_kind (name, size, length_mm, per_pack, staple) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING")
                .bind(name)
                .bind(size)
                .bind(length_mm)
                .bind(per_pack)
                .bind(staple)
                .execute(write.db())
                .await?;
        added += row.rows_affected();
    }
    Ok(added)
}

/// The rules of how long prey may be, smallest spiders first.
///
/// # Errors
/// The database can't be read.
pub async fn rules(db: &mut SqliteConnection) -> Result<Vec<PreyRule>, AppError> {
    let rows: Vec<(SizeClass, u32, u32, bool)> =
        sqlx::query_as("SELECT class, most_percent, each, killed FROM prey_rule").fetch_all(db).await?;
    let mut rules: Vec<PreyRule> =
        rows.into_iter().map(|(class, most_percent, each, killed)| PreyRule { class, most_percent, each, killed }).collect();
    rules.sort_by_key(|rule| rule.class);
    Ok(rules)
}

/// Changes the rules.
///
/// # Errors
/// The database can't be written.
pub async fn set_rules(write: &mut Write, rules: &[PreyRule]) -> Result<(), AppError> {
    for rule in rules {
        sqlx::query("UPDATE prey_rule SET most_percent = ?, each = ?, killed = ? WHERE class = ?")
            .bind(rule.most_percent)
            .bind(rule.each)
            .bind(rule.killed)
            .bind(rule.class)
            .execute(write.db())
            .await?;
    }
    Ok(())
}

/// How the house orders prey.
///
/// # Errors
/// The database can't be read.
pub async fn policy(db: &mut SqliteConnection) -> Result<Policy, AppError> {
    let (lead_days, cover_days) = sqlx::query_as("SELECT prey_lead_days, prey_cover_days FROM site WHERE id = 1").fetch_one(db).await?;
    Ok(Policy { lead_days, cover_days })
}

/// Changes how the house orders prey.
///
/// # Errors
/// The database can't be written.
pub async fn set_policy(write: &mut Write, policy: Policy) -> Result<(), AppError> {
    sqlx::query("UPDATE site SET prey_lead_days = ?, prey_cover_days = ? WHERE id = 1")
        .bind(policy.lead_days)
        .bind(policy.cover_days)
        .execute(write.db())
        .await?;
    Ok(())
}
