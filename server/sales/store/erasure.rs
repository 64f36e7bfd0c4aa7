//! Erasing a buyer: the number stays, the person goes, from every table of the inventory.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use sqlx::SqliteConnection;

use super::dealings::unfinished;
use super::require_buyer;
use crate::house::audit;
use crate::house::erased::Erased;
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::BuyerId;
use crate::house::text;
use crate::house::write::Write;

/// Erases a buyer. The caller commits, notes it in the journal and has the file written anew.
///
/// # Errors
/// A conflict when they were erased already; a refusal that says what to finish first.
pub async fn erase(write: &mut Write, id: BuyerId) -> Result<(), AppError> {
    let (at, today) = (write.at, write.today);
    if let Some(erased) = require_buyer(write.db(), id).await?.erased_at {
        return Err(AppError::conflict(format!("This buyer was erased already, on {}.", text::instant(&erased, &write.zone))));
    }
    let mut mistakes = Mistakes::none();
    for sentence in unfinished(write.db(), id, today).await?.sentences() {
        mistakes.add("", sentence);
    }
    if !mistakes.is_empty() {
        return Err(AppError::Refused(mistakes));
    }
    blank(write, id, at).await
}

/// Erases somebody again, whose person came back with an older backup. What was open then is given up: they are gone.
///
/// # Errors
/// The database can't be written.
pub async fn erase_again(write: &mut Write, id: BuyerId, at: DateTime<Utc>) -> Result<(), AppError> {
    let (who, now) = (write.who, write.at);
    sqlx::query("UPDATE handover SET state = 'cancelled', version = version + 1 WHERE buyer_id = ? AND state = 'draft'")
        .bind(id)
        .execute(write.db())
        .await?;
    let orders = sqlx::query_scalar("SELECT id FROM sale_order WHERE buyer_id = ? AND state = 'open'").bind(id);
    for order in orders.fetch_all(write.db()).await? {
        super::reserved::end_of_order(write, order, crate::sales::model::ReservationEnd::Released).await?;
    }
    sqlx::query(
        "UPDATE sale_order SET state = 'cancelled', ended_at = ?, ended_by = ?, version = version + 1 WHERE buyer_id = ? AND state = 'open'",
    )
    .bind(now)
    .bind(who)
    .bind(id)
    .execute(write.db())
    .await?;
    sqlx::query("UPDATE buyer SET kept_until = NULL, kept_reason = '' WHERE id = ?").bind(id).execute(write.db()).await?;
    blank(write, id, at).await
}

async fn blank(write: &mut Write, id: BuyerId, at: DateTime<Utc>) -> Result<(), AppError> {
    sqlx::query(
        "UPDATE buyer SET name = 'Erased buyer ' || id, contact = '', address = '', language = '', search = '', digits = '',
                kept_until = NULL, kept_reason = '', erased_at = ?, version = version + 1
         WHERE id = ?",
    )
    .bind(at)
    .bind(id)
    .execute(write.db())
    .await?;
    blank_papers(write, id).await?;
    blank_notes(write, id).await?;
    sweep_forms(write).await?;
    sqlx::query("UPDATE site SET wipe_wanted = 1 WHERE id = 1").execute(write.db()).await?;
    Ok(())
}

async fn blank_papers(write: &mut Write, id: BuyerId) -> Result<(), AppError> {
    let (who, now) = (write.who, write.at);
    sqlx::query("DELETE FROM paper_person WHERE paper_id IN (SELECT id FROM paper WHERE buyer_id = ?)")
        .bind(id)
        .execute(write.db())
        .await?;
    sqlx::query(
        "UPDATE buyer_link SET revoked_at = ?, revoked_by = ?
         WHERE revoked_at IS NULL AND paper_id IN (SELECT id FROM paper WHERE buyer_id = ?)",
    )
    .bind(now)
    .bind(who)
    .bind(id)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Ends what stands, and takes out the words that staff wrote: they may tell of the person.
async fn blank_notes(write: &mut Write, id: BuyerId) -> Result<(), AppError> {
    let (who, now) = (write.who, write.at);
    sqlx::query("UPDATE reservation SET ended_as = 'released', ended_at = ?, ended_by = ? WHERE buyer_id = ? AND ended_as IS NULL")
        .bind(now)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    for statement in [
        "UPDATE reservation SET note = ''
         WHERE note <> '' AND (buyer_id = ?1 OR order_id IN (SELECT id FROM sale_order WHERE buyer_id = ?1))",
        "UPDATE sale_order SET note = '' WHERE note <> '' AND buyer_id = ?1",
        "UPDATE handover SET note = '', override_reason = CASE override_reason WHEN '' THEN '' ELSE '(erased with the buyer)' END
         WHERE (note <> '' OR override_reason <> '') AND buyer_id = ?1",
        "UPDATE journey SET note = '' WHERE note <> '' AND handover_id IN (SELECT id FROM handover WHERE buyer_id = ?1)",
        "UPDATE arrival SET note = '' WHERE note <> '' AND handover_id IN (SELECT id FROM handover WHERE buyer_id = ?1)",
        "UPDATE sale_return SET reason = '(erased with the buyer)', condition = ''
         WHERE handover_line_id IN (SELECT line.id FROM handover JOIN handover_line AS line ON line.handover_id = handover.id
                                    WHERE handover.buyer_id = ?1)",
        // A quarantine after a return says why they brought it back.
        "UPDATE hold SET reason = substr(reason, 1, instr(reason, ':') - 1) WHERE EXISTS (
             SELECT 1 FROM handover WHERE buyer_id = ?1
                AND substr(hold.reason, 1, length('brought back, handover ' || handover.id || ':')) = 'brought back, handover ' || handover.id || ':')",
        "UPDATE recall_contact SET note = '' WHERE note <> '' AND buyer_id = ?1",
        "UPDATE journey SET note = '' WHERE note <> '' AND handover_id IN (SELECT id FROM handover WHERE buyer_id = ?1)",
        "UPDATE arrival SET note = '' WHERE note <> '' AND handover_id IN (SELECT id FROM handover WHERE buyer_id = ?1)",
        "UPDATE sale_return SET reason = '(erased with the buyer)', condition = ''
         WHERE handover_line_id IN (SELECT line.id FROM handover JOIN handover_line AS line ON line.handover_id = handover.id
                                    WHERE handover.buyer_id = ?1)",
    ] {
        sqlx::query(statement).bind(id).execute(write.db()).await?;
    }
    Ok(())
}

/// The hash of a form that was sent would let names be tried against it, and a message that nobody has read yet may hold one.
async fn sweep_forms(write: &mut Write) -> Result<(), AppError> {
    sqlx::query("UPDATE submission SET body_hash = 'swept' WHERE substr(location, 1, 5) IN ('/buye', '/hand', '/orde', '/outi', '/reca')")
        .execute(write.db())
        .await?;
    sqlx::query("UPDATE session SET data = json_remove(data, '$.flash') WHERE json_extract(data, '$.flash') IS NOT NULL")
        .execute(write.db())
        .await?;
    Ok(())
}

/// Everybody who was erased, as the journal has it.
///
/// # Errors
/// The database can't be read.
pub async fn erased(db: &mut SqliteConnection) -> Result<BTreeSet<Erased>, AppError> {
    let Some(house) = audit::first(db).await? else { return Ok(BTreeSet::new()) };
    let rows: Vec<(BuyerId, DateTime<Utc>)> =
        sqlx::query_as("SELECT id, erased_at FROM buyer WHERE erased_at IS NOT NULL ORDER BY id").fetch_all(db).await?;
    Ok(rows.into_iter().map(|(buyer, at)| Erased { house: house.clone(), buyer, at }).collect())
}

/// Those of a journal who are in this book again: of this house, not erased here, and entered before they were erased there.
///
/// # Errors
/// The database can't be read.
pub async fn back_again(db: &mut SqliteConnection, journal: &BTreeSet<Erased>) -> Result<Vec<Erased>, AppError> {
    let Some(house) = audit::first(db).await? else { return Ok(Vec::new()) };
    let mut back = Vec::new();
    for one in journal.iter().filter(|one| one.house == house) {
        let created_at: Option<DateTime<Utc>> = sqlx::query_scalar("SELECT created_at FROM buyer WHERE id = ? AND erased_at IS NULL")
            .bind(one.buyer)
            .fetch_optional(&mut *db)
            .await?;
        if created_at.is_some_and(|created_at| created_at <= one.at) {
            back.push(one.clone());
        }
    }
    Ok(back)
}

/// Whether the file still has to be written anew without somebody who was erased.
///
/// # Errors
/// The database can't be read.
pub async fn wipe_wanted(db: &mut SqliteConnection) -> Result<bool, AppError> {
    Ok(sqlx::query_scalar("SELECT wipe_wanted FROM site WHERE id = 1").fetch_one(db).await?)
}

/// Notes that the file was written anew. This is the program's own mark, not a change of the book.
///
/// # Errors
/// The database can't be written.
pub async fn wiped(db: &mut SqliteConnection) -> Result<(), AppError> {
    sqlx::query("UPDATE site SET wipe_wanted = 0 WHERE id = 1").execute(db).await?;
    Ok(())
}
