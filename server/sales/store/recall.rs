//! Recalls: what is related, kept as it was found, and who was reached.

mod letters;
mod related;

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

pub use letters::write_letters;
pub use related::related;

use super::require_buyer;
use crate::house::errors::AppError;
use crate::house::ids::{BuyerId, PaperId, RecallId};
use crate::house::write::Write;
use crate::sales::model::recall::{Concerned, Contact, ContactKind, Found, NewFound, NewRecall, Recall};

/// Records a recall with what it found: neither is changed later.
///
/// # Errors
/// The database can't be written.
pub async fn insert(write: &mut Write, new: &NewRecall, found: &[NewFound]) -> Result<RecallId, AppError> {
    let (who, at, today) = (write.who, write.at, write.today);
    let id: RecallId = sqlx::query_scalar(
        "INSERT INTO recall (animal_id, cohort_id, mates, descent, rack, reason, words, found, day, made_by, made_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.origin.animal())
    .bind(new.origin.cohort())
    .bind(new.scope.mates)
    .bind(new.scope.descent)
    .bind(new.scope.rack)
    .bind(new.reason)
    .bind(&new.words)
    .bind(i64::try_from(found.len()).unwrap_or(i64::MAX))
    .bind(today)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?;
    for one in found {
        sqlx::query(
            "INSERT INTO recall_found (recall_id, animal_id, cohort_id, quantity, relation, generation, certain, fate, place, handover_line_id)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        )
        .bind(id)
        .bind(one.animal)
        .bind(one.cohort)
        .bind(one.quantity)
        .bind(one.relation)
        .bind(one.generation)
        .bind(one.certain)
        .bind(one.fate)
        .bind(&one.place)
        .bind(one.line)
        .execute(write.db())
        .await?;
    }
    Ok(id)
}

/// All recalls, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn recalls(db: &mut SqliteConnection) -> Result<Vec<Recall>, AppError> {
    Ok(sqlx::query_as(
        "SELECT recall.id, recall.animal_id, recall.cohort_id, COALESCE(animal.tag, cohort.code) AS label,
                species.accepted_name AS species, recall.mates, recall.descent, recall.rack, recall.reason, recall.words, recall.found,
                recall.day, member.name AS made_by_name, recall.made_at
         FROM recall LEFT JOIN animal ON animal.id = recall.animal_id LEFT JOIN cohort ON cohort.id = recall.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id) JOIN member ON member.id = recall.made_by
         ORDER BY recall.id DESC",
    )
    .fetch_all(db)
    .await?)
}

/// One recall.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: RecallId) -> Result<Recall, AppError> {
    recalls(db).await?.into_iter().find(|recall| recall.id == id).ok_or(AppError::NotFound)
}

/// What a recall found, in its order.
///
/// # Errors
/// The database can't be read.
pub async fn found(db: &mut SqliteConnection, id: RecallId) -> Result<Vec<Found>, AppError> {
    Ok(sqlx::query_as(
        "SELECT found.animal_id, found.cohort_id, COALESCE(animal.tag, cohort.code) AS label, species.accepted_name AS species,
                found.quantity, found.relation, found.generation, found.certain, found.fate, found.place, line.stage, line.handover_id,
                handover.day AS handed_over_on, handover.buyer_id, paper.number AS sheet
         FROM recall_found AS found
         LEFT JOIN animal ON animal.id = found.animal_id LEFT JOIN cohort ON cohort.id = found.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         LEFT JOIN handover_line AS line ON line.id = found.handover_line_id LEFT JOIN handover ON handover.id = line.handover_id
         LEFT JOIN paper ON paper.handover_line_id = line.id AND paper.kind = 'care-sheet'
         WHERE found.recall_id = ? ORDER BY found.id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

async fn contacts(db: &mut SqliteConnection, id: RecallId) -> Result<Vec<Contact>, AppError> {
    Ok(sqlx::query_as(
        "SELECT contact.buyer_id, contact.what, contact.paper_id, paper.number AS paper, contact.day, contact.note,
                member.name AS member_name
         FROM recall_contact AS contact JOIN member ON member.id = contact.member_id LEFT JOIN paper ON paper.id = contact.paper_id
         WHERE contact.recall_id = ? ORDER BY contact.id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// The buyers whom a recall concerns, in the order of their numbers, each with what they have and what was done to reach them.
///
/// # Errors
/// The database can't be read.
pub async fn concerned(db: &mut SqliteConnection, id: RecallId) -> Result<Vec<Concerned>, AppError> {
    let mut with: BTreeMap<BuyerId, Vec<Found>> = BTreeMap::new();
    for one in found(db, id).await? {
        if let Some(buyer) = one.buyer_id {
            with.entry(buyer).or_default().push(one);
        }
    }
    let contacts = contacts(db, id).await?;
    let mut concerned = Vec::new();
    for (id, found) in with {
        let buyer = require_buyer(db, id).await?;
        let contacts = contacts.iter().filter(|contact| contact.buyer_id == id).cloned().collect();
        concerned.push(Concerned { buyer, found, contacts });
    }
    Ok(concerned)
}

/// Notes a step taken to reach a buyer.
///
/// # Errors
/// A buyer whom the recall does not concern; a second letter.
pub async fn note_contact(
    write: &mut Write,
    id: RecallId,
    buyer: BuyerId,
    what: ContactKind,
    paper: Option<PaperId>,
    note: &str,
) -> Result<(), AppError> {
    let (who, at, today) = (write.who, write.at, write.today);
    sqlx::query(
        "INSERT INTO recall_contact (recall_id, buyer_id, what, paper_id, day, note, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(id)
    .bind(buyer)
    .bind(what)
    .bind(paper)
    .bind(today)
    .bind(note)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}

/// The recalls that concern a buyer, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn of_buyer(db: &mut SqliteConnection, buyer: BuyerId) -> Result<Vec<RecallId>, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT DISTINCT found.recall_id FROM handover JOIN handover_line AS line ON line.handover_id = handover.id
         JOIN recall_found AS found ON found.handover_line_id = line.id WHERE handover.buyer_id = ? ORDER BY 1 DESC",
    )
    .bind(buyer)
    .fetch_all(db)
    .await?)
}
