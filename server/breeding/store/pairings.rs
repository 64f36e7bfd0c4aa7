//! Pairings, and the animals that can be parents.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::look::look;
use crate::breeding::model::{NewPairing, PairingRow, Parent};
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::{AnimalId, PairingId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::breeding::check::{About, Weight};
use crate::reckoning::words::Sex;

/// All pairings, newest first, each with how it stands.
///
/// # Errors
/// The database can't be read.
pub async fn pairings(db: &mut SqliteConnection) -> Result<Vec<PairingRow>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM pairing_now ORDER BY COALESCE(last_on, paired_on) DESC, id DESC").fetch_all(db).await?)
}

/// The pairings of a dam, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn pairings_of(db: &mut SqliteConnection, dam: AnimalId) -> Result<Vec<PairingRow>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM pairing_now WHERE dam_id = ? ORDER BY COALESCE(last_on, paired_on) DESC, id DESC")
        .bind(dam)
        .fetch_all(db)
        .await?)
}

/// One pairing.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_pairing(db: &mut SqliteConnection, id: PairingId) -> Result<PairingRow, AppError> {
    Ok(sqlx::query_as("SELECT * FROM pairing_now WHERE id = ?").bind(id).fetch_one(db).await?)
}

/// The days on which an animal moulted.
///
/// # Errors
/// The database can't be read.
pub async fn dam_moults(db: &mut SqliteConnection, dam: AnimalId) -> Result<Vec<NaiveDate>, AppError> {
    Ok(sqlx::query_scalar("SELECT day FROM moult_standing WHERE animal_id = ? ORDER BY day").bind(dam).fetch_all(db).await?)
}

/// An animal as a parent.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn parent(db: &mut SqliteConnection, id: AnimalId) -> Result<Parent, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag, animal.species_id, species.accepted_name AS species, animal.sex, animal.locality, animal.started_on,
                animal.status_on AS left_on
         FROM animal JOIN species ON species.id = animal.species_id WHERE animal.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// An animal that a form chose as a parent.
pub(super) async fn chosen(db: &mut SqliteConnection, field: &'static str, id: AnimalId) -> Result<Parent, AppError> {
    match parent(db, id).await {
        Err(AppError::NotFound) => Err(AppError::refused(field, "This animal is not in the book. Choose one of the list.")),
        answer => answer,
    }
}

/// The living animals that can be dams (or sires): those sexed so, and those not sexed.
///
/// # Errors
/// The database can't be read.
pub async fn parents(db: &mut SqliteConnection, sex: Sex) -> Result<Vec<Parent>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag, animal.species_id, species.accepted_name AS species, animal.sex, animal.locality, animal.started_on,
                animal.status_on AS left_on
         FROM animal JOIN species ON species.id = animal.species_id
         WHERE animal.status = 'alive' AND animal.sex IN (?, 'unknown')
         ORDER BY animal.sex = 'unknown', species.accepted_name, animal.tag",
    )
    .bind(sex)
    .fetch_all(db)
    .await?)
}

/// Refuses a parent that is known to be of the other sex.
pub(super) fn check_sex(field: &'static str, animal: &Parent, wrong: Sex) -> Result<(), AppError> {
    if animal.sex == wrong {
        return Err(AppError::refused(field, format!("{} is known as a {}.", animal.tag, animal.sex)));
    }
    Ok(())
}

/// Refuses a parent of the other sex, and one that was not in the house on that day.
pub(super) fn check_parent(field: &'static str, animal: &Parent, wrong: Sex, day: NaiveDate) -> Result<(), AppError> {
    check_sex(field, animal, wrong)?;
    if let Some(left) = animal.left_on.filter(|left| *left < day) {
        return Err(AppError::refused(field, format!("{} left on {}, before that day.", animal.tag, text::day(&left))));
    }
    Ok(())
}

/// Puts a pairing into the book before its first introduction. What speaks against it is kept with it, in the words in which
/// it was shown; when the lines of the two differ, that follows their young.
///
/// # Errors
/// A day still to come, and everything that blocks it: two of different species, of the wrong sex, held, moulting, not in the
/// house on that day; lines that differ when nobody said to go on; a pairing of the two that stands already.
pub async fn begin_pairing(write: &mut Write, new: &NewPairing) -> Result<PairingId, AppError> {
    super::check_past("day", new.day, write.today)?;
    chosen(write.db(), "dam", new.dam).await?;
    chosen(write.db(), "sire", new.sire).await?;
    let (at, zone, who) = (write.at, write.zone, write.who);
    let (findings, mixed) = look(write.db(), new.dam, new.sire, new.day, (at, zone, who)).await?;
    let mut mistakes = Mistakes::none();
    for finding in findings.iter().filter(|finding| finding.weight == Weight::Blocks) {
        let field = if finding.about == About::Female { "dam" } else { "sire" };
        mistakes.add(field, finding.says.as_str());
    }
    let different = findings.iter().any(|finding| finding.weight == Weight::Blocks);
    if !different && !mixed.is_empty() && !new.accept_mixed {
        mistakes.add(
            "accept_mixed",
            format!("Their lines differ: {mixed}. The young belong to neither, and it stands with each of them. Tick this to go on all the same."),
        );
    }
    if !different && pairings_of(write.db(), new.dam).await?.iter().any(|row| row.sire_id == new.sire && row.is_open()) {
        mistakes.add("sire", "These two are in the book as a pairing that stands. Write the introduction down there.");
    }
    if !mistakes.is_empty() {
        return Err(mistakes.into());
    }
    let warnings: Vec<&str> =
        findings.iter().filter(|finding| finding.weight == Weight::Warns).map(|finding| finding.says.as_str()).collect();
    Ok(sqlx::query_scalar(
        "INSERT INTO pairing (dam_id, sire_id, paired_on, note, mixed, warnings, member_id, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.dam)
    .bind(new.sire)
    .bind(new.day)
    .bind(&new.note)
    .bind(short(&mixed, 400))
    .bind(short(&warnings.join("\n"), 6000))
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// As much of a text as its column holds.
fn short(text: &str, most: usize) -> String {
    text.chars().take(most).collect()
}
