//! What happens to an animal: meals, moults, signs, lengths and moves. Entries are only ever added.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::living;
use crate::animals::model::{NewCondition, NewMeal, NewMoult, NewMove, NewSpan, Offer};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SignoffId};
use crate::house::write::Write;
use crate::reckoning::growth;
use crate::reckoning::words::{MealOutcome, MoultState};
use crate::rooms;

/// Notes an offer of prey that was not taken from stock.
///
/// # Errors
/// An animal that has left; a day before it hatched.
pub async fn record_meal(write: &mut Write, id: AnimalId, new: &NewMeal) -> Result<(), AppError> {
    record_meal_from(write, id, new, None).await
}

/// Notes an offer of prey, and what it took from stock: live prey that was refused goes back, pre-killed prey does not.
/// Without words of its own it carries those of the list.
///
/// # Errors
/// An animal that has left; a day before it hatched.
pub async fn record_meal_from(write: &mut Write, id: AnimalId, new: &NewMeal, offer: Option<Offer>) -> Result<(), AppError> {
    living(write, id, new.day).await?;
    let (at, who) = (write.at, write.who);
    let spent = new.outcome == MealOutcome::Refused && offer.is_some_and(|offer| offer.killed);
    sqlx::query(
        "INSERT INTO meal (animal_id, day, offered_at, prey, outcome, signoff_id, member_id, at, prey_kind_id, prey_each, prey_spent)
         VALUES (?1, ?2, ?3, COALESCE(NULLIF(?4, ''), (SELECT name || ', ' || size FROM prey_kind WHERE id = ?9), ''),
                 ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
    )
    .bind(id)
    .bind(new.day)
    .bind(offered_at(write, new.day))
    .bind(&new.prey)
    .bind(new.outcome)
    .bind(new.signoff)
    .bind(who)
    .bind(at)
    .bind(offer.map(|offer| offer.kind))
    .bind(offer.map_or(0, |offer| offer.each))
    .bind(spent)
    .execute(write.db())
    .await?;
    Ok(())
}

/// The instant of an offer: when it was done for one of that day, the day's start for one that is noted later, so that its
/// hours have surely run.
fn offered_at(write: &Write, day: NaiveDate) -> chrono::DateTime<chrono::Utc> {
    if day == write.made_on {
        return write.made_at;
    }
    crate::reckoning::calendar::day_in(write.zone, day).map_or(write.at, |day| day.start)
}

/// Notes what became of the prey that was left in. Taken out after a night it is used up all the same.
///
/// # Errors
/// No prey is noted as left in; an animal that has left.
pub async fn clear_left_in(write: &mut Write, id: AnimalId, outcome: MealOutcome, signoff: Option<SignoffId>) -> Result<(), AppError> {
    if outcome == MealOutcome::LeftIn {
        return Err(AppError::refused("outcome", "Say whether it was taken, or taken out."));
    }
    let today = write.today;
    living(write, id, today).await?;
    let (at, who) = (write.at, write.who);
    let cleared = sqlx::query(
        "INSERT INTO meal (animal_id, day, offered_at, prey, outcome, signoff_id, member_id, at, corrects_id, prey_kind_id, prey_each, prey_spent)
         SELECT animal_id, day, offered_at, prey, ?1, ?2, ?3, ?4, id, prey_kind_id, prey_each, ?1 = 'refused'
         FROM meal_standing WHERE animal_id = ?5 AND outcome = 'left-in'",
    )
    .bind(outcome)
    .bind(signoff)
    .bind(who)
    .bind(at)
    .bind(id)
    .execute(write.db())
    .await?;
    if cleared.rows_affected() == 0 {
        return Err(AppError::conflict("No prey is noted as left in with this animal any more: somebody has cleared it already."));
    }
    Ok(())
}

/// Notes a moult, and the length taken after it.
///
/// # Errors
/// A moult that is on record for that day already; an animal that has left; a day before it hatched.
pub async fn record_moult(write: &mut Write, id: AnimalId, new: &NewMoult) -> Result<(), AppError> {
    living(write, id, new.day).await?;
    let twice: bool = sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM moult_standing WHERE animal_id = ? AND day = ?)")
        .bind(id)
        .bind(new.day)
        .fetch_one(write.db())
        .await?;
    if twice {
        return Err(AppError::refused("day", "A moult on this day is in the book already."));
    }
    let (at, who) = (write.at, write.who);
    sqlx::query("INSERT INTO moult (animal_id, day, skin_kept, note, signoff_id, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?)")
        .bind(id)
        .bind(new.day)
        .bind(new.skin_kept)
        .bind(&new.note)
        .bind(new.signoff)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    if let Some(span) = &new.span {
        record_measurement(write, id, span, new.day, new.signoff).await?;
    }
    Ok(())
}

/// Notes what was seen of an animal's moult.
///
/// # Errors
/// An animal that has left; a day before it hatched.
pub async fn record_sign(
    write: &mut Write,
    id: AnimalId,
    state: MoultState,
    day: NaiveDate,
    signoff: Option<SignoffId>,
) -> Result<(), AppError> {
    living(write, id, day).await?;
    let (at, who) = (write.at, write.who);
    sqlx::query("INSERT INTO moult_sign (animal_id, day, state, signoff_id, member_id, at) VALUES (?, ?, ?, ?, ?, ?)")
        .bind(id)
        .bind(day)
        .bind(state)
        .bind(signoff)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Notes a length.
///
/// # Errors
/// An animal that has left; a day before it hatched.
pub async fn record_measurement(
    write: &mut Write,
    id: AnimalId,
    new: &NewSpan,
    day: NaiveDate,
    signoff: Option<SignoffId>,
) -> Result<(), AppError> {
    living(write, id, day).await?;
    let (at, who) = (write.at, write.who);
    sqlx::query("INSERT INTO measurement (animal_id, day, kind, mm, method, signoff_id, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)")
        .bind(id)
        .bind(day)
        .bind(new.kind)
        .bind(new.mm)
        .bind(new.method)
        .bind(signoff)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Notes how well fed an animal looks.
///
/// # Errors
/// An animal that has left; a day before it hatched.
pub async fn record_condition(write: &mut Write, id: AnimalId, new: &NewCondition) -> Result<(), AppError> {
    living(write, id, new.day).await?;
    let (at, who) = (write.at, write.who);
    sqlx::query(
        "INSERT INTO body_condition (animal_id, day, condition, abdomen_tenths, carapace_tenths, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(id)
    .bind(new.day)
    .bind(new.condition)
    .bind(new.widths.map(|(abdomen, _)| abdomen))
    .bind(new.widths.map(|(_, carapace)| carapace))
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}

/// A remark on a leg span taken after a moult, when it does not fit the one before that moult; none when it fits or
/// nothing was measured before.
///
/// # Errors
/// The database can't be read.
pub async fn span_doubt(db: &mut SqliteConnection, id: AnimalId, moulted_on: NaiveDate, mm: i64) -> Result<Option<String>, AppError> {
    let before: Option<u32> = sqlx::query_scalar(
        "SELECT mm FROM measurement_standing WHERE animal_id = ?1 AND kind = 'dls' AND day < ?2
           AND day >= COALESCE((SELECT MAX(day) FROM moult_standing WHERE animal_id = ?1 AND day < ?2), '')
         ORDER BY day DESC, id DESC LIMIT 1",
    )
    .bind(id)
    .bind(moulted_on)
    .fetch_optional(db)
    .await?;
    Ok(before.zip(u32::try_from(mm).ok()).and_then(|(before, after)| growth::doubt(before, after)))
}

/// Moves an animal to another place, into another enclosure, or both.
///
/// # Errors
/// An animal that has left; a shelf that does not exist.
pub async fn record_move(write: &mut Write, id: AnimalId, new: &NewMove) -> Result<(), AppError> {
    living(write, id, new.day).await?;
    let from = place_label(write.db(), id).await?;
    let size = if new.rehoused { new.enclosure } else { None };
    sqlx::query(
        "UPDATE animal SET shelf_id = ?1, position = ?2,
                enclosure_length_mm = CASE WHEN ?3 THEN ?4 ELSE enclosure_length_mm END,
                enclosure_width_mm = CASE WHEN ?3 THEN ?5 ELSE enclosure_width_mm END,
                fall_gap_mm = CASE WHEN ?3 THEN ?6 ELSE fall_gap_mm END,
                rehouse_note = CASE WHEN ?3 THEN '' ELSE rehouse_note END, version = version + 1
         WHERE id = ?7",
    )
    .bind(new.shelf)
    .bind(new.position)
    .bind(new.rehoused)
    .bind(size.map(|size| size.length_mm))
    .bind(size.and_then(|size| size.width_mm))
    .bind(size.and_then(|size| size.fall_gap_mm))
    .bind(id)
    .execute(write.db())
    .await?;
    let to = place_label(write.db(), id).await?;
    log_move(write, id, new, (&from, &to)).await
}

/// Where an animal stands, in words.
pub(super) async fn place_label(db: &mut SqliteConnection, id: AnimalId) -> Result<String, AppError> {
    let (shelf, position): (Option<crate::house::ids::ShelfId>, Option<i64>) =
        sqlx::query_as("SELECT shelf_id, position FROM animal WHERE id = ?").bind(id).fetch_one(&mut *db).await?;
    let Some(shelf) = shelf else { return Ok("no place".to_owned()) };
    let label = rooms::store::shelf_label(db, shelf).await?;
    Ok(position.map_or_else(|| label.clone(), |position| format!("{label}, position {position}")))
}

/// Adds the line of a move; `between` is where it stood and where it stands, in words.
pub(super) async fn log_move(write: &mut Write, id: AnimalId, new: &NewMove, between: (&str, &str)) -> Result<(), AppError> {
    let (at, who) = (write.at, write.who);
    sqlx::query(
        "INSERT INTO stock_move (animal_id, day, from_label, to_label, rehoused, enclosure_length_mm, signoff_id, member_id, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(id)
    .bind(new.day)
    .bind(between.0)
    .bind(between.1)
    .bind(new.rehoused)
    .bind(if new.rehoused { new.enclosure.map(|size| size.length_mm) } else { None })
    .bind(new.signoff)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}
