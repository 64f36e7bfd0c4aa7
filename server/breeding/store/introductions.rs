//! Each time that the two of a pairing were put together. Entries are only ever added.

use sqlx::SqliteConnection;

use super::look::asked_of_people;
use super::pairings::{parent, require_pairing};
use crate::animals;
use crate::animals::model::AnimalStatus;
use crate::breeding::model::{Introduction, NewIntroduction, PairingRow};
use crate::handling;
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::{AnimalId, IntroductionId, MemberId, PairingId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::breeding::IntroductionEnd;
use crate::reckoning::hazard::Requirement;
use crate::reckoning::who_may::Part;
use crate::reckoning::words::LossCause;

/// Every introduction of a pairing, those struck out too, the oldest first.
///
/// # Errors
/// The database can't be read.
pub async fn introductions_of(db: &mut SqliteConnection, pairing: PairingId) -> Result<Vec<Introduction>, AppError> {
    Ok(sqlx::query_as(
        "SELECT i.id, i.pairing_id, pairing.dam_id, pairing.sire_id, sire.tag AS sire_tag, i.day, i.began_at, i.insertion, i.outcome, i.note,
                member.name AS member_name, second.name AS second_name, later.void_reason AS struck
         FROM introduction AS i JOIN pairing ON pairing.id = i.pairing_id JOIN animal AS sire ON sire.id = pairing.sire_id
         LEFT JOIN member ON member.id = i.member_id LEFT JOIN member AS second ON second.id = i.second_id
         LEFT JOIN introduction AS later ON later.corrects_id = i.id
         WHERE i.pairing_id = ? AND i.corrects_id IS NULL ORDER BY i.day, i.id",
    )
    .bind(pairing)
    .fetch_all(db)
    .await?)
}

/// The introductions of a dam that stand, the oldest first: those of all her pairings.
///
/// # Errors
/// The database can't be read.
pub async fn introductions_of_dam(db: &mut SqliteConnection, dam: AnimalId) -> Result<Vec<Introduction>, AppError> {
    Ok(sqlx::query_as(
        "SELECT i.id, i.pairing_id, i.dam_id, i.sire_id, sire.tag AS sire_tag, i.day, i.began_at, i.insertion, i.outcome, i.note,
                member.name AS member_name, second.name AS second_name, NULL AS struck
         FROM introduction_standing AS i JOIN animal AS sire ON sire.id = i.sire_id
         LEFT JOIN member ON member.id = i.member_id LEFT JOIN member AS second ON second.id = i.second_id
         WHERE i.dam_id = ? ORDER BY i.day, i.id",
    )
    .bind(dam)
    .fetch_all(db)
    .await?)
}

/// One introduction, whether it stands or not.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_introduction(db: &mut SqliteConnection, id: IntroductionId) -> Result<Introduction, AppError> {
    Ok(sqlx::query_as(
        "SELECT i.id, i.pairing_id, pairing.dam_id, pairing.sire_id, sire.tag AS sire_tag, i.day, i.began_at, i.insertion, i.outcome, i.note,
                member.name AS member_name, second.name AS second_name, later.void_reason AS struck
         FROM introduction AS i JOIN pairing ON pairing.id = i.pairing_id JOIN animal AS sire ON sire.id = pairing.sire_id
         LEFT JOIN member ON member.id = i.member_id LEFT JOIN member AS second ON second.id = i.second_id
         LEFT JOIN introduction AS later ON later.corrects_id = i.id
         WHERE i.id = ? AND i.corrects_id IS NULL",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// Writes an introduction down, by whoever did it. A male that was lost is a loss of him in the same change.
///
/// # Errors
/// A 403 without the clearance that the bands of both ask for; mistakes for a time still to come, an animal that was not in the
/// house or was held then, a second person who is missing or may not.
pub async fn introduce(write: &mut Write, new: &NewIntroduction) -> Result<IntroductionId, AppError> {
    let who = write.who.ok_or_else(|| AppError::forbidden("An introduction is written down by the person who did it."))?;
    let pairing = require_pairing(write.db(), new.pairing).await?;
    if let Some(moult) = pairing.void_since.filter(|moult| *moult <= new.day) {
        let moult = text::day(&moult);
        return Err(AppError::refused("day", format!("This pairing is void since she moulted on {moult}. Plan the two anew.")));
    }
    let (bands, asked) = asked_of_people(write.db(), pairing.dam_id, pairing.sire_id).await?;
    if let Some(lacks) = handling::store::lacking(write.db(), who, asked, Part::First, new.day).await? {
        return Err(AppError::Forbidden(format!(
            "Putting these two together is work with hands in and needs clearance {}: {lacks}. Nothing was written.",
            asked.clearance
        )));
    }
    let mistakes = faults(write, who, asked, &pairing, new).await?;
    if !mistakes.is_empty() {
        return Err(mistakes.into());
    }
    let id = insert(write, bands.0.max(bands.1), asked, new).await?;
    if new.outcome == IntroductionEnd::Lost {
        animals::store::record_leaving(write, pairing.sire_id, AnimalStatus::Dead, Some(LossCause::Cannibalism), new.day).await?;
    }
    Ok(id)
}

/// All that is wrong with an introduction, each at its field; empty when nothing is.
///
/// # Errors
/// The database can't be read.
pub async fn faults(
    write: &mut Write,
    who: MemberId,
    asked: Requirement,
    pairing: &PairingRow,
    new: &NewIntroduction,
) -> Result<Mistakes, AppError> {
    let mut mistakes = Mistakes::none();
    if new.began_at > write.at {
        mistakes.add("time", "This time is still to come.");
    }
    for id in [pairing.dam_id, pairing.sire_id] {
        let one = parent(write.db(), id).await?;
        if let Some(left) = one.left_on.filter(|left| *left < new.day) {
            mistakes.add("day", format!("{} left on {}, before that day.", one.tag, text::day(&left)));
        }
        if one.started_on > new.day {
            mistakes.add("day", format!("{} came under care on {}, after that day.", one.tag, text::day(&one.started_on)));
        }
    }
    for (tag, kind, reason) in holds_then(write, pairing, new).await? {
        mistakes.add("time", format!("{tag} was held then ({kind}: {reason}), so nobody opened it. Check the day and the time."));
    }
    second(write, who, asked, new, &mut mistakes).await?;
    Ok(mistakes)
}

async fn holds_then(
    write: &mut Write,
    pairing: &PairingRow,
    new: &NewIntroduction,
) -> Result<Vec<(String, crate::reckoning::words::HoldKind, String)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.tag, hold.kind, hold.reason FROM hold JOIN animal ON animal.id = hold.animal_id
         WHERE hold.animal_id IN (?1, ?2) AND hold.from_at <= ?3 AND (hold.until_at IS NULL OR hold.until_at > ?3)
           AND (hold.lifted_at IS NULL OR hold.lifted_at > ?3)
         ORDER BY hold.id",
    )
    .bind(pairing.dam_id)
    .bind(pairing.sire_id)
    .bind(new.began_at)
    .fetch_all(write.db())
    .await?)
}

async fn second(
    write: &mut Write,
    who: MemberId,
    asked: Requirement,
    new: &NewIntroduction,
    mistakes: &mut Mistakes,
) -> Result<(), AppError> {
    match new.second {
        _ if asked.persons < 2 => {}
        None => mistakes.add("second", "This takes two people. Choose the second person, who enters their PIN."),
        Some(second) if second == who => {
            mistakes.add("second", "The second person must be somebody else than the one who writes this down.")
        }
        Some(second) => match handling::store::lacking(write.db(), second, asked, Part::Second, new.day).await {
            Err(AppError::NotFound) => mistakes.add("second", "This person is not in the book. Choose another."),
            lacks => {
                if let Some(lacks) = lacks? {
                    mistakes.add("second", format!("The second person needs clearance {}: {lacks}.", asked.clearance.saturating_sub(1)));
                }
            }
        },
    }
    Ok(())
}

async fn insert(write: &mut Write, band: u8, asked: Requirement, new: &NewIntroduction) -> Result<IntroductionId, AppError> {
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar(
        "INSERT INTO introduction (pairing_id, day, began_at, insertion, outcome, note, member_id, second_id, band, clearance, persons, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.pairing)
    .bind(new.day)
    .bind(new.began_at)
    .bind(new.insertion)
    .bind(new.outcome)
    .bind(&new.note)
    .bind(who)
    .bind(if asked.persons >= 2 { new.second } else { None })
    .bind(band)
    .bind(asked.clearance)
    .bind(asked.persons)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Strikes an introduction out that was written down by mistake.
///
/// # Errors
/// One that was struck out before; one in which the male was lost, as the dead stay dead; no reason.
pub async fn strike_introduction(write: &mut Write, id: IntroductionId, reason: &str) -> Result<Introduction, AppError> {
    let one = require_introduction(write.db(), id).await?;
    if one.struck.is_some() {
        return Err(AppError::conflict("This introduction has been struck out already."));
    }
    if one.outcome == IntroductionEnd::Lost {
        return Err(AppError::conflict(format!(
            "{} is in the book as lost in this introduction, and who has died stays so. Write a note on his page instead.",
            one.sire_tag
        )));
    }
    if reason.is_empty() {
        return Err(AppError::refused("why", "Say why it is struck out."));
    }
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO introduction (pairing_id, day, began_at, insertion, outcome, member_id, band, clearance, persons, at, corrects_id, void_reason)
         SELECT pairing_id, day, began_at, insertion, outcome, ?2, band, clearance, persons, ?3, id, ?4 FROM introduction WHERE id = ?1",
    )
    .bind(id)
    .bind(who)
    .bind(at)
    .bind(reason)
    .execute(write.db())
    .await?;
    Ok(one)
}
