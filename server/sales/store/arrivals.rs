//! How what was sent arrived.

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::{ArrivalId, HandoverId};
use crate::house::write::Write;
use crate::sales::model::{Arrival, HandoverState, NewArrival, Way};

/// How a handover arrived, as it stands; nothing while nobody has told.
///
/// # Errors
/// The database can't be read.
pub async fn of(db: &mut SqliteConnection, id: HandoverId) -> Result<Option<Arrival>, AppError> {
    let arrival: Option<Arrival> = sqlx::query_as(
        "SELECT arrival.id, arrival.arrived_at, arrival.claimed_at, arrival.claim_hours, arrival.note, member.name AS member_name
         FROM arrival_standing AS arrival LEFT JOIN member ON member.id = arrival.member_id WHERE arrival.handover_id = ?",
    )
    .bind(id)
    .fetch_optional(&mut *db)
    .await?;
    let Some(mut arrival) = arrival else { return Ok(None) };
    arrival.lines = sqlx::query_as("SELECT handover_line_id, alive, injured, dead FROM arrival_line WHERE arrival_id = ?")
        .bind(arrival.id)
        .fetch_all(db)
        .await?;
    Ok(Some(arrival))
}

/// Notes how a handover arrived. A further entry corrects the one before it: `seen` is the one that stood when the page was opened.
///
/// # Errors
/// A handover that was not sent; lines that do not add up or are not told of; a conflict when somebody told meanwhile.
pub async fn record(write: &mut Write, id: HandoverId, seen: Option<ArrivalId>, new: &NewArrival) -> Result<ArrivalId, AppError> {
    let handover = super::require_handover(write.db(), id).await?;
    if handover.state != HandoverState::Done || handover.way != Way::Dispatch {
        return Err(AppError::conflict("This handover was not sent, so nothing arrives."));
    }
    let stands = of(write.db(), id).await?.map(|arrival| arrival.id);
    if stands != seen {
        return Err(AppError::conflict("Somebody entered how this arrived since you opened the page. Open it again and look first."));
    }
    check(write, &handover.done_at, id, new).await?;
    let claim_hours = super::road::rules(write.db()).await?.claim_hours;
    let (who, at) = (write.who, write.at);
    let arrival: ArrivalId = sqlx::query_scalar(
        "INSERT INTO arrival (handover_id, corrects_id, arrived_at, claimed_at, claim_hours, note, member_id, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(id)
    .bind(stands)
    .bind(new.arrived_at)
    .bind(new.claimed_at)
    .bind(claim_hours)
    .bind(&new.note)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?;
    for line in &new.lines {
        sqlx::query("INSERT INTO arrival_line (arrival_id, handover_line_id, alive, injured, dead) VALUES (?, ?, ?, ?, ?)")
            .bind(arrival)
            .bind(line.handover_line_id)
            .bind(line.alive)
            .bind(line.injured)
            .bind(line.dead)
            .execute(write.db())
            .await?;
    }
    Ok(arrival)
}

async fn check(
    write: &mut Write,
    sent_at: &Option<chrono::DateTime<chrono::Utc>>,
    id: HandoverId,
    new: &NewArrival,
) -> Result<(), AppError> {
    let mut mistakes = Mistakes::none();
    if sent_at.is_some_and(|sent| new.arrived_at < sent) {
        mistakes.add("hour", "This is before it was handed to the carrier. Check the day and the hour.");
    }
    if new.claimed_at.is_some_and(|claimed| claimed < new.arrived_at) {
        mistakes.add("claim_hour", "This is before it arrived. Check the day and the hour.");
    }
    for line in super::lines(write.db(), id).await? {
        let found = new.lines.iter().find(|found| found.handover_line_id == line.id);
        let sum = found.map_or(0, |found| u64::from(found.alive) + u64::from(found.injured) + u64::from(found.dead));
        if sum != u64::from(line.quantity) {
            mistakes.add(
                "counts",
                format!("{}: {} were sent, {sum} are told of.", crate::house::text::capitalised(&line.words()), line.quantity),
            );
        }
    }
    if mistakes.is_empty() { Ok(()) } else { Err(AppError::Refused(mistakes)) }
}
