//! How an animal leaves the house, and how one that escaped comes back.

use chrono::NaiveDate;

use super::records::{log_move, place_label};
use crate::animals::model::{AnimalStatus, NewMove};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, ShelfId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::words::LossCause;

/// How an animal stands in the book.
struct Standing {
    status: AnimalStatus,
    status_on: Option<NaiveDate>,
    started_on: NaiveDate,
}

async fn standing(write: &mut Write, id: AnimalId) -> Result<Standing, AppError> {
    let (status, status_on, started_on) =
        sqlx::query_as("SELECT status, status_on, started_on FROM animal WHERE id = ?").bind(id).fetch_one(write.db()).await?;
    Ok(Standing { status, status_on, started_on })
}

/// Notes that an animal died, was sold or escaped. One that escaped can still be found dead; nothing else leaves twice.
///
/// # Errors
/// An animal that has left already; a death without a cause; a day before it came.
pub async fn record_leaving(
    write: &mut Write,
    id: AnimalId,
    status: AnimalStatus,
    cause: Option<LossCause>,
    day: NaiveDate,
) -> Result<(), AppError> {
    let now = standing(write, id).await?;
    let found_dead = now.status == AnimalStatus::Escaped && status == AnimalStatus::Dead;
    if now.status != AnimalStatus::Alive && !found_dead {
        let since = text::day_or_dash(&now.status_on);
        return Err(AppError::conflict(format!("This animal is in the book as {} since {since}. It can't leave twice.", now.status)));
    }
    if day < now.started_on || now.status_on.is_some_and(|left| day < left) {
        let first = text::day(&now.status_on.unwrap_or(now.started_on));
        return Err(AppError::refused("day", format!("This day is too early: the earliest possible is {first}.")));
    }
    let cause = match status {
        AnimalStatus::Alive => return Err(AppError::refused("status", "Say how it left: dead, sold or escaped.")),
        AnimalStatus::Sold => None,
        AnimalStatus::Escaped => Some(cause.unwrap_or(LossCause::Escape)),
        AnimalStatus::Dead => Some(cause.ok_or_else(|| AppError::refused("cause", "Say what it died of, or “not known”."))?),
    };
    let from = place_label(write.db(), id).await?;
    sqlx::query(
        "UPDATE animal SET status = ?, status_on = ?, loss_cause = ?, shelf_id = NULL, position = NULL, version = version + 1 WHERE id = ?",
    )
    .bind(status)
    .bind(day)
    .bind(cause)
    .bind(id)
    .execute(write.db())
    .await?;
    let to = cause.filter(|_| status == AnimalStatus::Dead).map_or_else(|| status.to_string(), |cause| format!("{status}: {cause}"));
    log_move(write, id, &plain_move(day, None, None), (&from, &to)).await
}

/// Notes that an animal that had escaped was found alive, and where it stands now.
///
/// # Errors
/// An animal that had not escaped; a day before it escaped.
pub async fn record_return(
    write: &mut Write,
    id: AnimalId,
    day: NaiveDate,
    shelf: Option<ShelfId>,
    position: Option<i64>,
) -> Result<(), AppError> {
    let now = standing(write, id).await?;
    if now.status != AnimalStatus::Escaped {
        return Err(AppError::conflict(format!("This animal is in the book as {}, so it can't be found again.", now.status)));
    }
    if now.status_on.is_some_and(|left| day < left) {
        let left = text::day_or_dash(&now.status_on);
        return Err(AppError::refused("day", format!("This day is before it escaped, which was on {left}.")));
    }
    sqlx::query(
        "UPDATE animal SET status = 'alive', status_on = NULL, loss_cause = NULL, shelf_id = ?, position = ?, version = version + 1
         WHERE id = ?",
    )
    .bind(shelf)
    .bind(position)
    .bind(id)
    .execute(write.db())
    .await?;
    let to = place_label(write.db(), id).await?;
    log_move(write, id, &plain_move(day, shelf, position), ("escaped, found again", &to)).await
}

/// Notes that a buyer brought an animal back, and where it stands now. The database lets it in only for a return that was entered
/// just before.
///
/// # Errors
/// An animal that was not sold; a day before it was.
pub async fn record_back_from_buyer(write: &mut Write, id: AnimalId, day: NaiveDate, shelf: Option<ShelfId>) -> Result<(), AppError> {
    let now = standing(write, id).await?;
    if now.status != AnimalStatus::Sold {
        return Err(AppError::conflict(format!("This animal is in the book as {}, so no buyer brings it back.", now.status)));
    }
    if now.status_on.is_some_and(|left| day < left) {
        return Err(AppError::refused("day", format!("This day is before it was sold, on {}.", text::day_or_dash(&now.status_on))));
    }
    sqlx::query("UPDATE animal SET status = 'alive', status_on = NULL, shelf_id = ?, position = NULL, version = version + 1 WHERE id = ?")
        .bind(shelf)
        .bind(id)
        .execute(write.db())
        .await?;
    let to = place_label(write.db(), id).await?;
    log_move(write, id, &plain_move(day, shelf, None), ("sold, brought back", &to)).await
}

fn plain_move(day: NaiveDate, shelf: Option<ShelfId>, position: Option<i64>) -> NewMove {
    NewMove { day, shelf, position, rehoused: false, enclosure: None, signoff: None }
}
