//! The book of prey. Lines are only ever added; what meals use is written by the database itself with each meal, so that no
//! way of signing, correcting or taking back can leave it out.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::kinds::require_kind;
use crate::house::errors::AppError;
use crate::house::ids::{PreyKindId, PreyLineId};
use crate::house::write::Write;
use crate::rounds::model::prey::{LineWhat, NewLine, PreyLine, Stock};

/// What is on hand of every kind, by name and length; kinds that the house does not use come last.
///
/// # Errors
/// The database can't be read.
pub async fn stock(db: &mut SqliteConnection) -> Result<Vec<Stock>, AppError> {
    Ok(sqlx::query_as(
        "SELECT kind.id, name, size, length_mm, per_pack, staple, active, version, COALESCE(balance.quantity, 0) AS quantity,
                EXISTS (SELECT 1 FROM prey_line WHERE kind_id = kind.id AND what IN ('delivered', 'counted')) AS kept,
                (SELECT MAX(day) FROM prey_line WHERE kind_id = kind.id AND counted IS NOT NULL) AS counted_on
         FROM prey_kind AS kind LEFT JOIN prey_balance AS balance ON balance.kind_id = kind.id
         ORDER BY active DESC, name, length_mm, kind.id",
    )
    .fetch_all(db)
    .await?)
}

/// The newest lines of a kind, each with what was on hand after it, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn lines(db: &mut SqliteConnection, kind: PreyKindId, most: i64) -> Result<Vec<PreyLine>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.id, line.day, line.what, line.quantity, line.counted, line.cost_minor, line.note, line.after, line.at,
                EXISTS (SELECT 1 FROM prey_line AS later WHERE later.reverses_id = line.id) AS reversed,
                member.name AS member_name, COALESCE(animal.tag, cohort.code) AS fed
         FROM (SELECT *, SUM(quantity) OVER (ORDER BY id) AS after FROM prey_line WHERE kind_id = ?) AS line
         LEFT JOIN member ON member.id = line.member_id
         LEFT JOIN meal ON meal.id = line.meal_id LEFT JOIN animal ON animal.id = meal.animal_id
         LEFT JOIN cohort_meal ON cohort_meal.id = line.cohort_meal_id LEFT JOIN cohort ON cohort.id = cohort_meal.cohort_id
         ORDER BY line.id DESC LIMIT ?",
    )
    .bind(kind)
    .bind(most)
    .fetch_all(db)
    .await?)
}

/// How many of each kind meals used since a day.
///
/// # Errors
/// The database can't be read.
pub async fn used_since(db: &mut SqliteConnection, since: NaiveDate) -> Result<BTreeMap<PreyKindId, i64>, AppError> {
    let used: Vec<(PreyKindId, i64)> =
        sqlx::query_as("SELECT kind_id, -SUM(quantity) FROM prey_line WHERE day >= ? AND what = 'used' GROUP BY kind_id")
            .bind(since)
            .fetch_all(db)
            .await?;
    Ok(used.into_iter().collect())
}

/// Enters a delivery or a loss.
///
/// # Errors
/// A kind that the house does not have; more lost than are on hand.
pub async fn add_line(write: &mut Write, new: &NewLine) -> Result<PreyLineId, AppError> {
    let kind = require_kind(write.db(), new.kind).await.map_err(unknown)?;
    let loss = matches!(new.what, LineWhat::Died | LineWhat::Thrown);
    if !loss && new.what != LineWhat::Delivered {
        return Err(AppError::refused("what", "Choose one of the list."));
    }
    let quantity = i64::from(new.quantity);
    let (on_hand, counted_on) = on_hand(write.db(), kind.id).await?;
    if loss && quantity > on_hand && counted_on.is_none_or(|counted| counted <= new.day) {
        let there = on_hand.max(0);
        return Err(AppError::refused("quantity", format!("The book has {there} of these. If there were more, count them first.")));
    }
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar(
        "INSERT INTO prey_line (kind_id, day, what, quantity, cost_minor, note, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.kind)
    .bind(new.day)
    .bind(new.what)
    .bind(if loss { -quantity } else { quantity })
    .bind(new.cost_minor)
    .bind(&new.note)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

fn unknown(error: AppError) -> AppError {
    match error {
        AppError::NotFound => AppError::refused("kind", "This kind of prey is not in the book. Choose one of the list."),
        other => other,
    }
}

/// What the book has of a kind, and the day of its last count.
async fn on_hand(db: &mut SqliteConnection, kind: PreyKindId) -> Result<(i64, Option<NaiveDate>), AppError> {
    Ok(sqlx::query_as(
        "SELECT COALESCE((SELECT quantity FROM prey_balance WHERE kind_id = ?1), 0),
                (SELECT MAX(day) FROM prey_line WHERE kind_id = ?1 AND counted IS NOT NULL)",
    )
    .bind(kind)
    .fetch_one(db)
    .await?)
}

/// Enters a count of what is there now. Gives by how much the book was wrong: what was found more, or less.
///
/// # Errors
/// A kind that the house does not have.
pub async fn count(write: &mut Write, kind: PreyKindId, counted: u32, note: &str) -> Result<i64, AppError> {
    let kind = require_kind(write.db(), kind).await.map_err(unknown)?;
    let (book, _) = on_hand(write.db(), kind.id).await?;
    let difference = i64::from(counted) - book;
    let (who, at, today) = (write.who, write.at, write.today);
    sqlx::query(
        "INSERT INTO prey_line (kind_id, day, what, quantity, counted, note, member_id, at) VALUES (?, ?, 'counted', ?, ?, ?, ?, ?)",
    )
    .bind(kind.id)
    .bind(today)
    .bind(difference)
    .bind(counted)
    .bind(note)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(difference)
}

/// Takes a delivery or a loss back by a further line. Gives what it was.
///
/// # Errors
/// A line that is not there, was taken back before, or is of another sort.
pub async fn reverse(write: &mut Write, kind: PreyKindId, line: PreyLineId, why: &str) -> Result<LineWhat, AppError> {
    let (who, at) = (write.who, write.at);
    let what: Option<LineWhat> = sqlx::query_scalar("SELECT what FROM prey_line WHERE id = ? AND kind_id = ?")
        .bind(line)
        .bind(kind)
        .fetch_optional(write.db())
        .await?;
    let what = what.ok_or(AppError::NotFound)?;
    if !matches!(what, LineWhat::Delivered | LineWhat::Died | LineWhat::Thrown) {
        return Err(AppError::conflict(format!(
            "What is {what} can't be taken back here. Take the meal back where it was entered, or count again."
        )));
    }
    let done = sqlx::query(
        "INSERT INTO prey_line (kind_id, day, what, quantity, reverses_id, note, member_id, at)
         SELECT kind_id, day, 'reversed', -quantity, id, ?, ?, ? FROM prey_line AS line WHERE id = ?
           AND NOT EXISTS (SELECT 1 FROM prey_line AS later WHERE later.reverses_id = line.id)",
    )
    .bind(why)
    .bind(who)
    .bind(at)
    .bind(line)
    .execute(write.db())
    .await?;
    if done.rows_affected() == 0 {
        return Err(AppError::conflict("This line has been taken back already."));
    }
    Ok(what)
}
